"""What is known of a lab's instruments: checks, drift, corrections, doubts, agreement, drying, closure."""

from __future__ import annotations

from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from analysis.measurement.calibration import Check
from analysis.measurement.calibration_words import record_sentences
from analysis.measurement.correction import FittedCorrection
from analysis.measurement.correction_block import block_for
from analysis.measurement.drift import Drift
from analysis.measurement.instrument_record import InstrumentRecord
from analysis.measurement.zero_chart import IndividualsChart
from analysis.words import count
from pipeline.measurement.agreement_report import (
    Compared,
    agreement_data,
    agreement_findings,
    agreement_parts,
    compared,
)
from pipeline.measurement.gather import Gathered, nearest
from pipeline.measurement.weighing_report import closure_findings, closure_part, drying_findings, drying_part
from pipeline.report import Part, Report, as_data, findings
from schemas.problem import ProblemError

TWICE = 2.0
NONE = "No instruments yet. Name them in an instruments table, and on every reading (instrument_id)."


def instruments_report(
    gathered: Gathered, *, instrument_id: str | None = None, tolerance_pct: float | None = None
) -> Report:
    """Everything about the instruments, or about one of them; `tolerance_pct` settles whether two may stand in."""
    records = gathered.records()
    if instrument_id is not None:
        records = _only(records, instrument_id)
    pairs = compared(gathered, instrument_id=instrument_id)
    timezone = gathered.settings.timezone
    unnamed = [Part("", [NONE])] if not records and not gathered.brews.is_empty() else []
    parts = unnamed + [_part(record, timezone, asked=instrument_id is not None) for record in records]
    parts += agreement_parts(gathered, pairs, tolerance_pct)
    lab_wide = instrument_id is None
    oven = drying_part(gathered, instrument_id)
    closure = closure_part(gathered) if lab_wide else None
    parts += [part for part in (oven, closure) if part]
    rows = [row for record in records for row in _findings(record, timezone)] + agreement_findings(pairs)
    rows += drying_findings(gathered, instrument_id) + (closure_findings(gathered) if lab_wide else [])
    return Report(parts, findings(rows), _data(gathered, records, pairs, tolerance_pct, oven, closure), none=NONE)


def _only(records: tuple[InstrumentRecord, ...], instrument_id: str) -> tuple[InstrumentRecord, ...]:
    kept = tuple(record for record in records if record.instrument.instrument_id == instrument_id)
    if not kept:
        near = nearest(instrument_id, [record.instrument.instrument_id for record in records])
        raise ProblemError(f"There is no instrument {instrument_id}.{near}")
    return kept


def _part(record: InstrumentRecord, timezone: str, *, asked: bool) -> Part:
    """One instrument; its block for `lab.toml` where a correction is called for, or the instrument was asked for."""
    instrument = record.instrument
    kind = {"scale": "weighing scale", "oven": "drying oven"}.get(instrument.kind, instrument.kind)
    sizes = [count(len(instrument.checks), "check")] if instrument.checks else []
    if record.readings is not None:
        sizes.append(count(record.readings.n, "reading"))
    about = ", ".join([*([kind] if kind else []), *sizes])
    block = block_for(record) if record.applied is None else ""
    sentences = list(record_sentences(record, timezone=timezone))
    drifts = isinstance(record.reference_drift, Drift) and record.reference_drift.shown
    if block and drifts:
        block = block if asked else ""
    elif block and not _called_for(record):
        sentences.append("No correction is called for: what it reads off lies within twice its standard uncertainty.")
        block = block if asked else ""
    if block:
        sentences.append(
            "To have every reading corrected, those of the past too, put this into lab.toml; take it out again, and "
            "they are as they were:"
        )
    return Part(f"{instrument.instrument_id} ({about})" if about else instrument.instrument_id, sentences, block=block)


def _called_for(record: InstrumentRecord) -> bool:
    """Whether the error somewhere among the references is more than twice the correction's standard uncertainty."""
    found = record.correction
    if not isinstance(found, FittedCorrection):
        return False
    readings = [found.offset + found.slope * level for level in (found.low, found.high)]
    return any(abs(reading - found.corrected(reading)) > TWICE * found.u(reading) for reading in readings)


def _findings(record: InstrumentRecord, timezone: str) -> list[tuple[Any, ...]]:
    name, unit = record.instrument.instrument_id, record.instrument.unit or None
    rows: list[tuple[Any, ...]] = []
    chart = record.zero_chart
    if isinstance(chart, IndividualsChart):
        basis = "control limits" + (", widened to the display step" if chart.widened else "")
        rows.append(("zero", name, "mean zero", chart.centre, chart.lower, chart.upper, unit, chart.n, basis))
    for about, drift in (("zero drift", record.zero_drift), ("reference drift", record.reference_drift)):
        if isinstance(drift, Drift):
            per_week = f"{unit} a week" if unit else "a week"
            rows.append((about, name, "drift", drift.per_week, drift.low, drift.high, per_week, drift.n_checks, "95 %"))
        elif drift.n_checks:
            rows.append((about, name, "drift", None, None, None, None, drift.n_checks, drift.reason))
    found = record.correction
    if isinstance(found, FittedCorrection):
        basis = f"{found.kind}, references from {found.low:g} to {found.high:g}"
        rows.append(("correction", name, "offset", found.offset, None, None, unit, found.n_checks, basis))
        rows.append(("correction", name, "slope", found.slope, None, None, None, found.n_checks, basis))
        for level in sorted({found.low, found.high}):
            u = found.u(found.offset + found.slope * level)
            at = f"standard uncertainty of a corrected reading at {level:g}"
            rows.append(("correction", name, at, u, None, None, unit, found.n_checks, basis))
    elif found.n_checks:
        rows.append(("correction", name, "offset", None, None, None, unit, found.n_checks, found.reason))
    for doubt in record.doubts:
        check = doubt.failed.check
        rows.append(
            ("in doubt", name, f"error of a failed check ({check.kind})", check.error, doubt.failed.low,
             doubt.failed.high, unit, doubt.failures, _window(doubt.after, check, doubt.before, timezone))
        )  # fmt: skip
    return rows


def _window(after: datetime | None, failed: Check, before: datetime | None, timezone: str) -> str:
    def told(moment: datetime) -> str:
        return moment.astimezone(ZoneInfo(timezone)).isoformat()

    start, end = told(after) if after else "the first reading", told(before) if before else "a check passes"
    return f"failed {told(failed.checked_at)}; in doubt from {start} until {end}"


def _data(
    gathered: Gathered,
    records: tuple[InstrumentRecord, ...],
    pairs: tuple[Compared, ...],
    tolerance_pct: float | None,
    oven: Part | None,
    closure: Part | None,
) -> Any:
    timezone = gathered.settings.timezone
    told = {
        "instruments": [
            {
                **as_data(record, timezone),
                "suggested_block": block_for(record),
                "sentences": record_sentences(record, timezone=timezone),
            }
            for record in records
        ],
        "agreement": [agreement_data(pair, tolerance_pct) for pair in pairs],
        "drying": oven and {"sentences": oven.sentences},
        "closure": closure and {"sentences": closure.sentences},
    }
    return as_data(told, timezone)
