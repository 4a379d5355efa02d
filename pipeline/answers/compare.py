"""A comparison of sides as a report."""

from __future__ import annotations

import polars as pl

from analysis.comparisons.compare import ComparisonResult, Difference
from analysis.comparisons.words import comparison_sentences
from analysis.effects.factors import difference_unit
from analysis.effects.words import decimals
from analysis.words import number, p_range, signed, span
from pipeline.report import Part, Report, as_data, figures
from schemas.columns import COLUMNS

ROW = {
    "side": pl.String(),
    "against": pl.String(),
    "response": pl.String(),
    "unit": pl.String(),
    "estimate": pl.Float64(),
    "std_error": pl.Float64(),
    "df": pl.Float64(),
    "low": pl.Float64(),
    "high": pl.Float64(),
    "p_value": pl.Float64(),
    "alike_p": pl.Float64(),
    "difference_that_matters": pl.Float64(),
    "settled": pl.String(),
    "n_side": pl.Int64(),
    "n_against": pl.Int64(),
    "scope": pl.String(),
    "model": pl.String(),
}
"""A row per pair: `low`, `high` and `p_value` allow for all pairs."""


def comparison_report(result: ComparisonResult, *, timezone: str) -> Report:
    """Sentences, the sides, the pairs, and what the model was."""
    unit = COLUMNS[result.request.response].unit
    parts = [
        Part("", comparison_sentences(result)),
        Part(
            "Sides",
            [],
            (
                result.request.word,
                "brews",
                "coffees",
                f"mean, {unit}",
                "standard deviation",
                "mean at the same coffees",
            ),
            _sides(result),
            right=("brews", "coffees", f"mean, {unit}", "standard deviation", "mean at the same coffees"),
        ),
        Part(
            "Differences",
            [],
            ("pair", f"difference, {difference_unit(result.request.response)}", "95 % interval", "p", "settled"),
            [_pair(one) for one in result.differences],
            right=(f"difference, {difference_unit(result.request.response)}",),
        ),
        Part("", [f"Model: {result.model}.", *_left_out(result)]),
    ]
    frame = pl.DataFrame([_row(result, one) for one in result.differences], ROW, orient="row")
    data = {
        **as_data(result, timezone),
        "sentences": comparison_sentences(result),
        "differences": frame.to_dicts(),
    }
    return Report(parts, frame, data)


def _sides(result: ComparisonResult) -> list[tuple[str, ...]]:
    return [
        (
            one.side,
            str(one.n_brews),
            str(one.n_coffees),
            number(one.mean, 2),
            figures(one.sd),
            number(one.at_same_coffees, 2),
        )
        for one in result.sides
    ]


def _pair(one: Difference) -> tuple[str, ...]:
    places = decimals(one.low, one.high)
    return (
        f"{one.side} against {one.against}",
        signed(one.estimate, places),
        span(one.low, one.high, places),
        p_range(one.p_value).removeprefix("p "),
        one.settled,
    )


def _row(result: ComparisonResult, one: Difference) -> tuple[object, ...]:
    request = result.request
    return (
        one.side,
        one.against,
        request.response,
        difference_unit(request.response),
        one.estimate,
        one.std_error,
        one.df,
        one.low,
        one.high,
        one.p_value,
        one.alike_p,
        request.margin,
        one.settled,
        *one.n_brews,
        result.scope,
        result.model,
    )


def _left_out(result: ComparisonResult) -> list[str]:
    return [f"Left out: {', '.join(result.left_out)}."] if result.left_out else []
