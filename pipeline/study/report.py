"""A study on one page: what is declared, whether before the data, what was left out, ranges kept or not."""

from __future__ import annotations

import polars as pl

from analysis.effects.factors import FACTORS, difference_unit
from analysis.study.apply import StudyRows
from analysis.study.ranges import BrewedRange, condition_words
from analysis.words import count, listed, method_word
from pipeline.report import Part, Report, as_data
from pipeline.study.declared import Declaration
from pipeline.study.words import declaration_words
from schemas.columns import COLUMNS
from schemas.study import Study, StudyFactor

FRAME = {
    "study_id": pl.String,
    "factor": pl.String,
    "unit": pl.String,
    "step": pl.Float64,
    "declared_low": pl.Float64,
    "declared_high": pl.Float64,
    "brewed_low": pl.Float64,
    "brewed_high": pl.Float64,
    "n_brews": pl.Int64,
    "n_outside": pl.Int64,
}
"""One row per factor of the study, for csv; `n_brews` have a value of it."""


def study_report(rows: StudyRows, declaration: Declaration, *, timezone: str) -> Report:
    """The page of one study."""
    parts = [
        Part(f"Study {rows.study.study_id}", [rows.study.question, *_declared(rows.study)]),
        Part("Declared before the data?", list(declaration_words(declaration))),
        Part("Brews", [*rows.said, *_void(rows)], ("brew", "left out because"), _left_out(rows)),
    ]
    if rows.study.factors:
        headers = ("factor", "step", "declared", "brewed", "brews", "outside", "asked")
        parts.append(Part("Settings", [], headers, _settings(rows), right=("brews", "outside")))
    return Report(parts, _frame(rows), _data(rows, declaration, timezone))


def _declared(study: Study) -> list[str]:
    said = [f"To explain: {study.response}, {method_word(study.method) if study.method else 'any method'}."]
    said.append(f"Coffees: {', '.join(study.coffees) if study.coffees else 'all'}.")
    if study.blocks:
        said.append(f"Blocks: {', '.join(study.blocks)}.")
    if study.whole_plot:
        said.append(f"Hard to change between brews: {', '.join(study.whole_plot)}.")
    if study.crosses:
        said.append(f"Together: {', '.join(study.crosses)}.")
    if study.difference_that_matters is not None:
        said.append(f"A difference that matters: {study.difference_that_matters:g} {difference_unit(study.response)}.")
    said += [
        f"Target: {one.response} {one.low:g} to {one.high:g} {COLUMNS[one.response].unit}." for one in study.targets
    ]
    for one in study.impossible:
        reason = f" ({one.reason})" if one.reason else ""
        said.append(f"The kit cannot brew {condition_words(one.conditions)}{reason}.")
    if study.grind_reference:
        places = [f"{one.coffee_id} on {one.grinder_id} at {one.grind_setting}" for one in study.grind_reference]
        said.append(f"Grind zero frozen: {listed(places)}.")
    return said


def _void(rows: StudyRows) -> list[str]:
    n = rows.brews.filter(pl.col("is_void")).height
    return [f"{count(n, 'brew')} of the study {'is' if n == 1 else 'are'} void; no analysis uses them."] if n else []


def _left_out(rows: StudyRows) -> list[tuple[str, str]]:
    return [(name, reason) for reason, names in rows.left_out_ids.items() for name in names]


def _settings(rows: StudyRows) -> list[tuple[str, ...]]:
    ranges = {one.name: one for one in rows.ranges}
    return [_setting(rows, factor, ranges.get(factor.name)) for factor in rows.study.factors]


def _setting(rows: StudyRows, factor: StudyFactor, one: BrewedRange | None) -> tuple[str, ...]:
    step = FACTORS[factor.name].per(FACTORS[factor.name].step if factor.step is None else factor.step)
    asked = "slope and curve" if factor.curve else "slope"
    if one is None:
        return factor.name, step, "", "", str(_n_values(rows, factor)), "", "difference"
    unit = COLUMNS[factor.name].unit
    outside = "" if one.low is None else str(len(one.outside))
    brewed = _span(one.brewed_low, one.brewed_high, unit)
    return factor.name, step, _span(one.low, one.high, unit), brewed, str(one.n_values), outside, asked


def _n_values(rows: StudyRows, factor: StudyFactor) -> int:
    return rows.brews[factor.name].count()


def _span(low: float | None, high: float | None, unit: str) -> str:
    if low is None or high is None:
        return ""
    return f"{low:.4g} {unit}".rstrip() if low == high else f"{low:.4g} to {high:.4g} {unit}".rstrip()


def _frame(rows: StudyRows) -> pl.DataFrame:
    ranges = {one.name: one for one in rows.ranges}
    made = [
        (
            rows.study.study_id,
            factor.name,
            COLUMNS[factor.name].unit,
            factor.step,
            factor.low,
            factor.high,
            one.brewed_low if one else None,
            one.brewed_high if one else None,
            one.n_values if one else _n_values(rows, factor),
            len(one.outside) if one and one.low is not None else None,
        )
        for factor in rows.study.factors
        for one in [ranges.get(factor.name)]
    ]
    return pl.DataFrame(made, schema=FRAME, orient="row")


def _data(rows: StudyRows, declaration: Declaration, timezone: str) -> dict[str, object]:
    return {
        "study": as_data(rows.study, timezone),
        "declaration": {**as_data(declaration, timezone), "said": list(declaration_words(declaration))},
        "brews": {
            "found_by": rows.found_by,
            "n_found": rows.n_before,
            "n_used": rows.brews.height,
            "n_void": rows.brews.filter(pl.col("is_void")).height,
            "left_out": {reason: list(names) for reason, names in rows.left_out_ids.items()},
            "ranges": as_data(rows.ranges, timezone),
            "said": list(rows.said),
        },
    }
