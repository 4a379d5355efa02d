"""All that the checks of one instrument say: verdicts, drift, a correction, and when it cannot be relied on."""

from __future__ import annotations

import math
from dataclasses import dataclass

import polars as pl

from analysis.measurement.calibration import InstrumentChecks, limits_for, read_checks
from analysis.measurement.correction import FittedCorrection, NoCorrection, fit_correction
from analysis.measurement.doubt import Doubt, doubts
from analysis.measurement.drift import Drift, NoDrift, drift
from analysis.measurement.zero_chart import IndividualsChart, NotCharted, Verdict, individuals_chart, verdicts
from schemas.lab import CheckLimits, Correction, LabSettings

DROP = ("brew_id", "sample_no")
NEAR = 2.0
"""Readings of a drop count as repeats where they lie between half the lowest and twice the highest reference."""


@dataclass(frozen=True, slots=True)
class ReadingsTaken:
    """How many readings were taken on an instrument, and their range as its display showed them."""

    n: int
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class InstrumentRecord:
    """One instrument: its checks, what they show, and the correction that `lab.toml` applies to it, if any.

    `verdicts` stand by series (`calibration.series`); `readings` is None where none was taken on it.
    """

    instrument: InstrumentChecks
    limits: CheckLimits
    zero_chart: IndividualsChart | NotCharted
    verdicts: tuple[tuple[Verdict, ...], ...]
    zero_drift: Drift | NoDrift
    reference_drift: Drift | NoDrift
    correction: FittedCorrection | NoCorrection
    applied: Correction | None
    doubts: tuple[Doubt, ...]
    readings: ReadingsTaken | None


def instrument_records(
    calibrations: pl.DataFrame, instruments: pl.DataFrame, readings: pl.DataFrame, *, settings: LabSettings
) -> tuple[InstrumentRecord, ...]:
    """One record for each instrument, sorted by id.

    `calibrations` and `instruments` as in `read_checks`; `readings` has instrument_id, brew_id, sample_no and tds_pct.
    """
    applied = {correction.instrument_id: correction for correction in settings.corrections}
    named = readings.filter(pl.col("instrument_id").is_not_null())
    by_instrument = {str(name): part for (name,), part in named.group_by("instrument_id", maintain_order=True)}
    nothing = named.clear()
    return tuple(
        _record(one, by_instrument.get(one.instrument_id, nothing), applied.get(one.instrument_id), settings)
        for one in read_checks(calibrations, instruments)
    )


def _record(
    one: InstrumentChecks, readings: pl.DataFrame, applied: Correction | None, settings: LabSettings
) -> InstrumentRecord:
    limits, zeros, references = limits_for(one, settings), one.of("water_zero"), one.of("reference")
    return InstrumentRecord(
        instrument=one,
        limits=limits,
        zero_chart=individuals_chart([check.error for check in zeros], resolution=one.resolution),
        verdicts=verdicts(one.checks, limits, resolution=one.resolution),
        zero_drift=drift(zeros, resolution=one.resolution),
        reference_drift=drift(references, resolution=one.resolution),
        correction=fit_correction(
            references,
            resolution=one.resolution,
            reference_u=limits.reference_u,
            repeat_sd=_repeat_sd(readings, [check.reference for check in references]),
        ),
        applied=applied,
        doubts=doubts(one, settings),
        readings=_taken(readings),
    )


def _taken(readings: pl.DataFrame) -> ReadingsTaken | None:
    if readings.is_empty():
        return None
    low, high = readings.select(low=pl.col("tds_pct").min(), high=pl.col("tds_pct").max()).row(0)
    return ReadingsTaken(readings.height, low, high)


def _repeat_sd(readings: pl.DataFrame, references: list[float]) -> float | None:
    """Scatter of readings of one drop, pooled over drops near the references; None where none was read twice."""
    if not references:
        return None
    value = pl.col("tds_pct")
    drops = (
        readings.group_by(DROP, maintain_order=True)
        .agg(n=pl.len(), low=value.min(), high=value.max(), squares=value.var(ddof=1) * (pl.len() - 1))
        .filter((pl.col("low") >= min(references) / NEAR) & (pl.col("high") <= max(references) * NEAR))
        .filter(pl.col("n") > 1)
    )
    df = int(drops["n"].sum()) - drops.height
    return math.sqrt(math.fsum(drops["squares"]) / df) if df else None
