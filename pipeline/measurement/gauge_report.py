"""A gauge study of the store: which readings belong to it, what it found, and its run sheet."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import polars as pl

from analysis.measurement.gauge import PLAIN_NAMES, GaugeStudy, gauge_study
from analysis.measurement.gauge_spreads import Spread
from analysis.measurement.gauge_table import study_readings
from analysis.measurement.gauge_words import GaugeVerdict, classes_words, gauge_verdict, reader_limits_words
from analysis.measurement.reader_gaps import reader_gaps
from analysis.words import count, digits_for, number, sentence
from pipeline.measurement.gather import Gathered, nearest
from pipeline.report import Part, Report, as_data
from schemas.problem import ProblemError

SPREAD = {
    "part": pl.String(),
    "sd": pl.Float64(),
    "low": pl.Float64(),
    "high": pl.Float64(),
    "unit": pl.String(),
    "share_of_variance_pct": pl.Float64(),
    "share_of_study_variation_pct": pl.Float64(),
    "n_readings": pl.Int64(),
    "interval": pl.String(),
}
"""Parts of the spread in a file: standard deviations with 95 % intervals, in % TDS."""
SPREAD_HEADERS = ("part", "standard deviation, % TDS", "95 % interval", "of the variance", "of the study variation")
ANOVA_HEADERS = ("analysis of variance", "degrees of freedom", "mean square, (% TDS)^2", "F", "p")
TERM_NAMES = {"brew": "brew", "reader": "reader", "interaction": "reader by brew", "repeat": "repeats"}
SMALLEST_P = 0.001
PLAN = "To plan one: brewtrials gauge plan --help."


def gauge_report(
    gathered: Gathered, study_id: str, *, instrument_id: str | None = None, tolerance_pct: float | None = None
) -> Report:
    """The study over all brews with this study_id; `tolerance_pct` is the width of a target band in % TDS."""
    readings = _of_study(gathered, study_id, instrument_id)
    used = study_readings(readings, instrument_id=instrument_id)
    if used.frame.is_empty():
        left = f" Left out: {'; '.join(used.left_out)}." if used.left_out else ""
        raise ProblemError(f"No reading of the study {study_id} can be used.{left} Say who read (read_by). {PLAN}")
    instrument = readings.filter(pl.col("instrument_id").is_not_null())["instrument_id"].unique()
    name = instrument_id or (instrument[0] if instrument.len() == 1 else None)
    study = gauge_study(used.frame, display_step_pct=_display_step(gathered, name), tolerance_pct=tolerance_pct)
    verdict = gauge_verdict(study)
    gaps = [gap.sentence for gap in reader_gaps(used.frame)]
    said = _sentences(study, verdict, study_id, name, tolerance_pct, used.left_out, gaps)
    corrected = gathered.corrected_words([name])
    said += [sentence(corrected)] if corrected else []
    return Report(
        parts=[Part("", said, SPREAD_HEADERS, _spread_rows(study), right=SPREAD_HEADERS[1:]), _anova_part(study)],
        frame=pl.DataFrame([_spread_row(one, study) for one in study.spreads.values()], SPREAD, orient="row"),
        data=as_data(
            {"study_id": study_id, "instrument_id": name, **as_data(study), "verdict": verdict,
             "left_out": used.left_out, "sentences": said}
        ),
    )  # fmt: skip


def _of_study(gathered: Gathered, study_id: str, instrument_id: str | None) -> pl.DataFrame:
    studies = gathered.brews["study_id"].drop_nulls()
    brews = gathered.brews.filter(pl.col("study_id") == study_id)["brew_id"]
    if brews.is_empty():
        raise ProblemError(f"There is no study {study_id}.{nearest(study_id, studies)} {PLAN}")
    readings = gathered.readings.filter(pl.col("brew_id").is_in(brews.to_list()))
    if readings.is_empty():
        raise ProblemError(f"The study {study_id} has {count(brews.len(), 'brew')}, but no reading. {PLAN}")
    on_it = readings if instrument_id is None else readings.filter(pl.col("instrument_id") == instrument_id)
    if on_it.is_empty():
        near = nearest(str(instrument_id), readings["instrument_id"].drop_nulls())
        raise ProblemError(f"The study {study_id} has no readings on {instrument_id}.{near}")
    return on_it


def _display_step(gathered: Gathered, instrument_id: str | None) -> float | None:
    rows = gathered.instruments.filter(pl.col("instrument_id") == instrument_id)
    return None if instrument_id is None or rows.is_empty() else rows["resolution"][0]


def _sentences(
    study: GaugeStudy,
    verdict: GaugeVerdict,
    study_id: str,
    instrument: str | None,
    tolerance_pct: float | None,
    left_out: tuple[str, ...],
    gaps: Sequence[str],
) -> list[str]:
    said = [
        f"Gauge study {study_id}, {instrument or 'an unnamed instrument'}: {count(study.n_brews, 'brew')}, "
        f"{count(study.n_readers, 'reader')}, {count(study.n_readings, 'reading')} ({study.model}).",
        f"{verdict.sentence} {verdict.advice}",
    ]
    said += [*gaps, reader_limits_words(study)]
    if study.tolerance_share_pct is not None and tolerance_pct is not None:
        said.append(
            f"Six standard deviations of the gauge take up {number(study.tolerance_share_pct, 0)} % of a band "
            f"{tolerance_pct:g} % TDS wide"
        )
    said += classes_words(study)
    if left_out:
        said.append(f"Left out: {'; '.join(left_out)}")
    return [text if text in gaps else sentence(text) for text in (*said, *study.notes)]


def _spread_rows(study: GaugeStudy) -> list[tuple[str, ...]]:
    places = digits_for([part.sd for part in study.spreads.values()])
    return [
        (
            PLAIN_NAMES.get(part.name, part.name),
            number(part.sd, places),
            f"{number(part.sd_low, places)} to {number(part.sd_high, places)}",
            _percent(part.share_of_variance_pct),
            _percent(part.share_of_spread_pct),
        )
        for part in study.spreads.values()
    ]


def _percent(share: float | None) -> str:
    return "" if share is None else f"{share:.0f} %"


def _spread_row(part: Spread, study: GaugeStudy) -> tuple[Any, ...]:
    shares = (part.share_of_variance_pct, part.share_of_spread_pct)
    return (part.name, part.sd, part.sd_low, part.sd_high, "% TDS", *shares, study.n_readings, part.interval)


def _anova_part(study: GaugeStudy) -> Part:
    rows = []
    for row in study.anova:
        p = "" if row.p_value is None else f"{row.p_value:.3f}" if row.p_value >= SMALLEST_P else f"<{SMALLEST_P}"
        f = "" if row.f is None else number(row.f, 2)
        rows.append((TERM_NAMES[row.term], f"{row.df:g}", f"{row.mean:.3g}", f, p))
    return Part("", (), ANOVA_HEADERS, rows, right=ANOVA_HEADERS[1:])
