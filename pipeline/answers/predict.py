"""A prediction as a report, and the window that a lab or study declared."""

from __future__ import annotations

from collections.abc import Sequence

import polars as pl

from analysis.effects.factors import FACTORS
from analysis.effects.words import decimals
from analysis.prediction.request import YIELD, PredictRequest, Window
from analysis.prediction.result import Expected, Found, Prediction
from analysis.prediction.rows import setting_words
from analysis.prediction.targets import Ends, study_ends, table_ends, window_of
from analysis.prediction.words import PLACES, prediction_sentences, share
from analysis.words import number, span
from pipeline.answers.asked import AskedBrews
from pipeline.cli.opened import Opened
from pipeline.facts import read_inputs
from pipeline.report import Part, Report, as_data
from schemas.columns import COLUMNS
from schemas.problem import ProblemError

NAMES = {"extraction_yield_pct": "yield", "cup_tds_pct": "strength"}
ROW = {
    "response": pl.String(),
    "unit": pl.String(),
    "estimate": pl.Float64(),
    "std_error": pl.Float64(),
    "df": pl.Float64(),
    "low": pl.Float64(),
    "high": pl.Float64(),
    "brew_sd": pl.Float64(),
    "brew_df": pl.Float64(),
    "brew_low": pl.Float64(),
    "brew_high": pl.Float64(),
    "n_brews": pl.Int64(),
    "n_coffees": pl.Int64(),
    "scope": pl.String(),
    "model": pl.String(),
}
"""A row per response: `low` to `high` for the mean, `brew_low` to `brew_high` for one brew, both 95 %."""


def window_for(opened: Opened, asked: AskedBrews, request: PredictRequest, said: Ends) -> Window | None:
    """The window said on the command line, else that of the study, else that of the targets table; None without any.

    A window that was said stands alone: no target is added to what it leaves open.
    """
    if said:
        return window_of(said)
    if asked.study is not None and (ends := study_ends(asked.study)):
        return window_of(ends, f"declared by study {asked.study.study_id}")
    brews = asked.facts if request.method is None else asked.facts.filter(pl.col("method") == request.method)
    methods = brews["method"].unique().to_list()
    if len(methods) != 1:
        return None
    targets = read_inputs(opened.store, opened.manifest).targets
    last = brews["brewed_on"].drop_nulls().sort()
    day = last[-1] if last.len() else None
    return window_of(
        table_ends(targets, method=str(methods[0]), coffee=request.coffee, on=day), "the project's own target"
    )


def prediction_report(result: Prediction, *, timezone: str, said: Sequence[str] = ()) -> Report:
    """Sentences, both responses, the settings found, and what the models were; `said` is about the study's brews."""
    sentences = prediction_sentences(result)
    parts = [
        Part("", sentences),
        Part(
            "Expected",
            [],
            ("response", "expected, %", "95 % interval of the mean", "one brew, 95 % range"),
            [_cells(one) for one in result.expected],
            right=("expected, %",),
        ),
        *([_found(result, result.found)] if result.found is not None else []),
        Part("", [f"Model: {result.model}.", f"{result.left_out}.", *said]),
    ]
    frame = result.found.best if result.found is not None else _frame(result)
    data = {**as_data(result, timezone), "sentences": sentences, "study": list(said)}
    if result.found is not None:
        data["found"]["best"] = as_data(result.found.best.to_dicts())
    return Report(parts, frame, data)


def _frame(result: Prediction) -> pl.DataFrame:
    rows = [
        (
            *(one.response, COLUMNS[one.response].unit, one.value, one.std_error, one.df, one.low, one.high),
            *(one.brew_sd, one.brew_df, one.brew_low, one.brew_high),
            *(result.n_brews, result.n_coffees, result.scope, result.model),
        )
        for one in result.expected
    ]
    return pl.DataFrame(rows, ROW, orient="row")


def _cells(one: Expected) -> tuple[str, ...]:
    places = max(decimals(one.low, one.high), PLACES[one.response])
    return (
        NAMES[one.response],
        number(one.value, places),
        span(one.low, one.high, places),
        span(one.brew_low, one.brew_high, max(decimals(one.brew_low, one.brew_high), PLACES[one.response])),
    )


def _found(result: Prediction, found: Found) -> Part:
    names = list(result.settings)
    headers = ("chance", "95 % interval", *(FACTORS[name].noun for name in names), "yield, %", "strength, %")
    rows = [
        (
            share(row["chance"]),
            f"{share(row['chance_low'])} to {share(row['chance_high'])}",
            *(setting_words(name, row[name]).removeprefix(f"{FACTORS[name].noun} ") for name in names),
            number(row[YIELD], 1),
            number(row["cup_tds_pct"], 2),
        )
        for row in found.best.iter_rows(named=True)
    ]
    return Part("Best settings", [], headers, rows, right=("chance", "yield, %", "strength, %"))


def read_settings(texts: Sequence[str]) -> dict[str, float]:
    """NAME=VALUE texts as settings; yes is 1, no is 0; ProblemError at the first that is neither."""
    found: dict[str, float] = {}
    words = {"yes": 1.0, "true": 1.0, "no": 0.0, "false": 0.0}
    for text in texts:
        name, _, value = (part.strip() for part in text.partition("="))
        try:
            found_value = words[value.lower()] if value.lower() in words else float(value)
        except ValueError:
            raise ProblemError(f"{text} is not a setting; write NAME=VALUE, such as water_temp_c=94.") from None
        if name in found:
            raise ProblemError(f"{name} is set twice; set it once.")
        found[name] = found_value
    return found


def read_ends(text: str, response: str) -> tuple[float, float]:
    """LOW:HIGH as two numbers; ProblemError where it is not that."""
    low, _, high = text.partition(":")
    try:
        return float(low), float(high)
    except ValueError:
        raise ProblemError(f"{text} is not a window for {NAMES[response]}; write LOW:HIGH, such as 18:22.") from None
