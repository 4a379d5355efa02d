"""Agreement of every two instruments, and of each with the drying oven, on the brews that both measured."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations
from typing import Any

import polars as pl

from analysis.measurement.agreement import Agreement, NotCompared, compare_instruments
from analysis.measurement.agreement_words import agreement_sentence, agreement_sentences, line_sentence, verdict
from analysis.measurement.drying_checks import dried_dishes
from analysis.measurement.pairing import reference_as_readings, usable
from analysis.words import capital, listed, number, sentence
from pipeline.measurement.gather import Gathered
from pipeline.report import Part
from schemas.problem import ProblemError

Compared = Agreement | NotCompared
COLUMNS = ("brew_id", "instrument_id", "sample_no", "strength_pct", "is_void")
STEPLESS = {"instrument_id": pl.String(), "resolution": pl.Float64()}
NO_BREW = "no brew was measured on both"


def compared(gathered: Gathered, *, instrument_id: str | None = None) -> tuple[Compared, ...]:
    """Every two instruments that read a strength, or those with `instrument_id`; an oven comes first, as relied on."""
    read = gathered.readings.select(COLUMNS)
    dishes = dried_dishes(gathered.drying())
    dried = [
        reference_as_readings(of_oven, name=str(name))
        for (name,), of_oven in dishes.group_by("instrument_id", maintain_order=True)
    ]
    readings = usable(pl.concat([read, *(part.select(COLUMNS) for part in dried)]))
    ovens = set(dishes["instrument_id"])
    names = sorted(set(readings["instrument_id"]), key=lambda name: (name not in ovens, name))
    pairs = [(a, b) for a, b in combinations(names, 2) if instrument_id in (None, a, b) and not {a, b} <= ovens]
    brews = {str(name): set(part["brew_id"]) for (name,), part in readings.group_by("instrument_id")}
    # An oven shows no strength, so it has no display step: what its dishes leave open shows in their scatter.
    stepless = pl.DataFrame({"instrument_id": sorted(ovens), "resolution": 0.0}, schema=STEPLESS)
    stated = pl.concat([instruments_in_percent(gathered), stepless], how="diagonal")
    return tuple(
        _compared(readings, stated, a, b) if brews[a] & brews[b] else NotCompared(a, b, NO_BREW) for a, b in pairs
    )


def _compared(readings: pl.DataFrame, stated: pl.DataFrame, a: str, b: str) -> Compared:
    try:
        return compare_instruments(readings, stated, a, b)
    except ProblemError as problem:
        return NotCompared(a, b, str(problem))


def instruments_in_percent(gathered: Gathered) -> pl.DataFrame:
    """instrument_id, resolution and standard_uncertainty in % of strength; a correction's own takes its place."""
    units = (
        gathered.readings.filter(pl.col("instrument_id").is_not_null())
        .group_by("instrument_id", maintain_order=True)
        .agg(pl.col("unit_pct").mean(), pl.col("correction_u").first())
    )
    known = gathered.instruments.select("instrument_id", "resolution", "standard_uncertainty")
    return known.join(units, on="instrument_id", how="inner", maintain_order="left").select(
        "instrument_id",
        resolution=pl.col("resolution") * pl.col("unit_pct"),
        standard_uncertainty=pl.coalesce("correction_u", "standard_uncertainty") * pl.col("unit_pct"),
    )


def agreement_parts(gathered: Gathered, pairs: Sequence[Compared], tolerance_pct: float | None) -> list[Part]:
    """One part per pair that was compared; those that could not be, and why, in one more."""
    parts = [
        Part(f"{pair.a} and {pair.b}: do they agree?", _said(gathered, pair, tolerance_pct))
        for pair in pairs
        if isinstance(pair, Agreement)
    ]
    refused = [pair for pair in pairs if isinstance(pair, NotCompared)]
    said = [agreement_sentence(pair) for pair in refused if pair.reason != NO_BREW]
    apart = [f"{pair.a} with {pair.b}" for pair in refused if pair.reason == NO_BREW]
    if apart:
        said.append(sentence(f"{capital(NO_BREW)}: {listed(apart)}. Read three samples on both to compare two"))
    return [*parts, Part("Not compared", said)] if said else parts


def _said(gathered: Gathered, pair: Agreement, tolerance_pct: float | None) -> list[str]:
    said = [*agreement_sentences(pair, tolerance_pct=tolerance_pct), _shared_words(gathered, pair)]
    said += [sentence(gathered.corrected_words((pair.a, pair.b))), line_sentence(pair)]
    return [one for one in said if one]


def _shared_words(gathered: Gathered, pair: Agreement) -> str:
    """What dryings in one oven have in common, which no number of brews shows; empty where neither is an oven."""
    shared = {
        one.tds_pct: one.shared_u_pct
        for one in gathered.drying().brews
        if one.oven == pair.a and one.brew_id in pair.pairs.brew_ids and one.shared_u_pct
    }
    if not shared:
        return ""
    ends = sorted({min(shared), max(shared)})
    sizes = listed([f"{number(shared[at] or 0.0, 3)} % TDS at {number(at, 2)} % TDS" for at in ends])
    return (
        f"Not in these intervals: what all dryings in {pair.a} share (volatile loss, blank, weighing scale), standard "
        f"uncertainty {sizes}."
    )


def agreement_findings(pairs: Sequence[Compared]) -> list[tuple[Any, ...]]:
    """Bias, limits and slope of every pair as rows of `FINDING`."""
    rows: list[tuple[Any, ...]] = []
    for pair in pairs:
        name = f"{pair.b} less {pair.a}"
        if isinstance(pair, NotCompared):
            rows.append(("agreement", name, "bias", None, None, None, "%", None, pair.reason))
            continue
        n, basis = pair.n_brews, f"n counts brews, {pair.n_readings_a} and {pair.n_readings_b} readings"
        for what, found in (
            ("bias", pair.bias),
            ("lower limit for single readings", pair.lower),
            ("upper limit for single readings", pair.upper),
        ):
            rows.append(("agreement", name, what, found.value, found.low, found.high, "%", n, basis))
        line = pair.line
        if line is None:
            rows.append(("agreement", name, "Deming slope", None, None, None, None, n, pair.no_slope))
        else:
            rows.append(
                ("agreement", name, "Deming slope", line.slope, line.slope_low, line.slope_high, None, n,
                 pair.errors.basis)
            )  # fmt: skip
    return rows


def agreement_data(pair: Compared, tolerance_pct: float | None) -> dict[str, Any]:
    """A pair for programs; the readings themselves stay out."""
    if isinstance(pair, NotCompared):
        return {"a": pair.a, "b": pair.b, "reason": pair.reason}
    left_out = ("pairs", "added")
    told = {name: getattr(pair, name) for name in Agreement.__dataclass_fields__ if name not in left_out}
    judged = {} if tolerance_pct is None else {"tolerance_pct": tolerance_pct, "verdict": verdict(pair, tolerance_pct)}
    return told | judged | {"sentences": agreement_sentences(pair, tolerance_pct=tolerance_pct)}
