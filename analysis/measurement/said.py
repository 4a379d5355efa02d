"""Small words that sentences about instruments share: units, moments, where to declare."""

from __future__ import annotations

from datetime import date, datetime
from zoneinfo import ZoneInfo

from analysis.measurement.correction_block import section_key
from analysis.measurement.instrument_record import InstrumentRecord
from analysis.words import day


def section_for(record: InstrumentRecord) -> str:
    """The section of `lab.toml` that is about this instrument's checks."""
    instrument = record.instrument
    return "[checks]" if instrument.reads_strength else f"[checks.{section_key(instrument.instrument_id)}]"


def full_stop(text: str) -> str:
    """The text with a full stop; a first word that is an id keeps its letters."""
    return text if text.endswith(".") else f"{text}."


def with_unit(unit: str) -> str:
    """A unit as it follows a number; nothing where none is stated."""
    return f" {unit}" if unit else ""


def of_day(moment: datetime, timezone: str) -> date:
    """The calendar day of a moment in a zone."""
    return moment.astimezone(ZoneInfo(timezone)).date()


def moment_words(moment: datetime, timezone: str) -> str:
    """A moment in a zone; midnight stands for a day without a time."""
    local = moment.astimezone(ZoneInfo(timezone))
    return f"{day(local.date())} {local:%H:%M}" if local.hour or local.minute else day(local.date())
