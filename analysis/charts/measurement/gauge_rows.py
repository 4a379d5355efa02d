"""Which readings make a gauge study, and what the study says."""

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
    """The study of one instrument: its readings (brew_id, operator, tds_pct), its verdict, and what stayed out.

    `study_id` is empty where the readings belong to no study that the log names.
    """

    instrument: str
    study_id: str
    frame: pl.DataFrame
    study: GaugeStudy
    verdict: GaugeVerdict
    left_out: tuple[str, ...]

    @property
    def title(self) -> str:
        """The instrument, and the study."""
        return f"{self.instrument}, study {self.study_id}" if self.study_id else self.instrument


@dataclass(frozen=True, slots=True)
class NoGauge:
    """An instrument whose readings name their readers and yet make no study, and why."""

    instrument: str
    reason: str


def gauge_studies(readings: pl.DataFrame, instruments: pl.DataFrame) -> tuple[InstrumentGauge | NoGauge, ...]:
    """Every instrument with readings that say who took them (`read_by`), and every study of it, in order of names.

    A study is one where some brew was read by two people. A named study keeps all its readings; elsewhere brews that
    one person alone read stay out, as a log that always names its reader is no study. `readings` have the columns of
    the readings table, is_void and study_id.
    """
    named = readings.filter(pl.col("read_by").is_not_null(), pl.col("instrument_id").is_not_null())
    steps = dict(instruments.select("instrument_id", "resolution").iter_rows())
    found: list[InstrumentGauge | NoGauge] = []
    for name in named["instrument_id"].unique().sort().to_list():
        of_it = named.filter(pl.col("instrument_id") == name)
        together = of_it.filter(~pl.col("is_void"), pl.col("read_by").n_unique().over("brew_id") > 1)
        studies = together["study_id"].unique().sort(nulls_last=True).to_list()
        if not studies:
            found.append(NoGauge(name, f"{name}: no brew was read by two people."))
        found += [_of_study(readings, name, study_id, steps.get(name)) for study_id in studies]
    return tuple(found)


def _of_study(readings: pl.DataFrame, name: str, study_id: str | None, step: float | None) -> InstrumentGauge | NoGauge:
    try:
        of_study = readings.filter(pl.col("study_id").eq_missing(pl.lit(study_id, pl.String)))
        taken = study_readings(of_study, instrument_id=name)
        frame, left_out = taken.frame, list(taken.left_out)
        shared = frame.filter(pl.col("operator").n_unique().over("brew_id") > 1)
        if study_id is None and shared.height < frame.height:
            n = frame["brew_id"].n_unique() - shared["brew_id"].n_unique()
            left_out.append(f"{count(n, 'brew')} that one person alone read")
            frame = shared
        study = gauge_study(frame, display_step_pct=step)
        return InstrumentGauge(name, study_id or "", frame, study, gauge_verdict(study), tuple(left_out))
    except ProblemError as problem:
        return NoGauge(name, f"{name}{f', study {study_id}' if study_id else ''}: {problem}")
