"""Which instruments can be compared: refractometers with each other, and each with the oven."""

from __future__ import annotations

from itertools import combinations

import polars as pl

from analysis.measurement.agreement import Agreement, NotCompared, compare_instruments
from analysis.measurement.calibration import READS_STRENGTH
from analysis.measurement.drying import Drying
from analysis.measurement.drying_checks import dried_dishes
from analysis.measurement.pairing import OVEN, reference_as_readings, usable
from schemas.problem import ProblemError


def instrument_pairs(
    readings: pl.DataFrame, instruments: pl.DataFrame, drying: Drying
) -> tuple[Agreement | NotCompared, ...]:
    """Every two instruments that read strength, ovens first, as they are what the others are held against.

    `readings` are what `brew_readings` gives; what is stated of an instrument is brought to % of strength.
    """
    dishes = dried_dishes(drying)
    ovens = dishes["instrument_id"].unique().sort().to_list()
    names = usable(readings)["instrument_id"].unique().sort().to_list()
    dried = [reference_as_readings(dishes.filter(pl.col("instrument_id") == oven), name=oven or OVEN) for oven in ovens]
    columns = ["brew_id", "instrument_id", "sample_no", "strength_pct", "is_void"]
    together = pl.concat([readings.select(columns), *(part.select(columns) for part in dried)])
    stated = in_percent(readings, instruments)
    called = [oven or OVEN for oven in ovens]
    pairs = [(a, b) for a, b in combinations([*called, *(n for n in names if n not in called)], 2) if b not in called]
    return tuple(_compared(together, stated, a, b) for a, b in pairs)


def _compared(readings: pl.DataFrame, instruments: pl.DataFrame, a: str, b: str) -> Agreement | NotCompared:
    try:
        return compare_instruments(readings, instruments, a, b)
    except ProblemError as problem:
        return NotCompared(a, b, str(problem))


def in_percent(readings: pl.DataFrame, instruments: pl.DataFrame) -> pl.DataFrame:
    """instrument_id, resolution and standard_uncertainty in % of strength, of the instruments that read it."""
    unit = readings.group_by("instrument_id").agg(unit_pct=pl.col("unit_pct").mean())
    return (
        instruments.filter(pl.col("kind").fill_null("").is_in(READS_STRENGTH))
        .join(unit, on="instrument_id", how="left")
        .select("instrument_id", pl.col("resolution", "standard_uncertainty") * pl.col("unit_pct").fill_null(1.0))
        .sort("instrument_id")
    )
