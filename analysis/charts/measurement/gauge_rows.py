"""Which readings make a gauge study, instrument by instrument, and what the study says."""

from __future__ import annotations

from dataclasses import dataclass

import polars as pl

from analysis.measurement.gauge import GaugeStudy, gauge_study
from analysis.measurement.gauge_table import study_readings
from analysis.measurement.gauge_words import GaugeVerdict, gauge_verdict
from analysis.words import count
from schemas.problem import ProblemError


@dataclass(frozen=True, slots=True)
class InstrumentGauge:
    """The study of one instrument: its readings (brew_id, operator, tds_pct), its verdict, and what stayed out."""

    instrument: str
    frame: pl.DataFrame
    study: GaugeStudy
    verdict: GaugeVerdict
    left_out: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class NoGauge:
    """An instrument whose readings name their readers and yet make no study, and why."""

    instrument: str
    reason: str


def gauge_studies(readings: pl.DataFrame, instruments: pl.DataFrame) -> tuple[InstrumentGauge | NoGauge, ...]:
    """Every instrument with readings that say who took them (`read_by`), in order of its name.

    Brews that only one person read stay out where others were read by two or more: a log that always names its reader
    is no study. `readings` have the columns of the readings table and is_void.
    """
    named = readings.filter(pl.col("read_by").is_not_null(), pl.col("instrument_id").is_not_null())
    steps = dict(instruments.select("instrument_id", "resolution").iter_rows())
    return tuple(
        _of_instrument(name, readings, steps.get(name)) for name in named["instrument_id"].unique().sort().to_list()
    )


def _of_instrument(name: str, readings: pl.DataFrame, step: float | None) -> InstrumentGauge | NoGauge:
    try:
        taken = study_readings(readings, instrument_id=name)
        frame, left_out = taken.frame, list(taken.left_out)
        shared = frame.filter(pl.col("operator").n_unique().over("brew_id") > 1)
        if shared.is_empty():
            return NoGauge(name, f"{name}: no brew was read by two people.")
        if shared.height < frame.height:
            n = frame["brew_id"].n_unique() - shared["brew_id"].n_unique()
            left_out.append(f"{count(n, 'brew')} that one person alone read")
        study = gauge_study(shared, display_step_pct=step)
        return InstrumentGauge(name, shared, study, gauge_verdict(study), tuple(left_out))
    except ProblemError as problem:
        return NoGauge(name, f"{name}: {problem}")
