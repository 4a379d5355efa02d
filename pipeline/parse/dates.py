"""One written date or time to a moment; a numeric date only in an order that is known or the only one possible."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta, timezone

from pipeline.parse.model import DateOrder

FIRST_YEAR, LAST_YEAR = 1900, 2199
MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")

_YEAR_FIRST = re.compile(r"(\d{4})([-/.])(\d{1,2})\2(\d{1,2})")
_NUMERIC = re.compile(r"(\d{1,2})([./-])(\d{1,2})\2(\d{4}|\d{2})")
_DAY_NAMED = re.compile(r"(\d{1,2})(?:st|nd|rd|th)?[ .\-]*([a-z]{3,9})\.?[ ,.\-]*(\d{4}|\d{2})")
_NAMED_DAY = re.compile(r"([a-z]{3,9})\.? *(\d{1,2})(?:st|nd|rd|th)?,? +(\d{4})")
_CLOCK = re.compile(
    r"(\d{1,2}):([0-5]\d)(?::([0-5]\d)(?:[.,](\d{1,6})\d*)?)? ?(a\.?m\.?|p\.?m\.?)? ?(z|utc|[+-]\d{2}:?\d{2})?"
)
_SPLIT = re.compile(r"(.*?)(?:(?:(?<=\d)t|[ ,]+)(?=\d{1,2}:\d\d)(.*))?", re.DOTALL)


@dataclass(frozen=True, slots=True)
class Moment:
    """A time as written, without an offset (local) or in UTC; `is_date` when only the day was given."""

    when: datetime
    is_date: bool


@dataclass(frozen=True, slots=True)
class NoMoment:
    """Why a text is no moment: the name of the rule."""

    rule: str


def read_moment(text: str, order: DateOrder) -> Moment | NoMoment:
    """Read a date with or without a time of day.

    With `order` iso a numeric date counts only where one order is possible.

    >>> read_moment("3.4.2026 9:15", "day_first").when
    datetime.datetime(2026, 4, 3, 9, 15)
    >>> read_moment("03/04/26", "iso").rule
    'ambiguous_date'
    """
    match = _SPLIT.fullmatch(text.strip().lower())
    if match is None:
        return NoMoment("not_a_date")
    day = read_day(match.group(1).strip(), order)
    if isinstance(day, NoMoment) or match.group(2) is None:
        return day if isinstance(day, NoMoment) else Moment(datetime(day.year, day.month, day.day), is_date=True)
    clock = _CLOCK.fullmatch(match.group(2).strip())
    return NoMoment("not_a_date") if clock is None else _at(day, clock)


def read_day(text: str, order: DateOrder) -> date | NoMoment:
    """Read a calendar date, lower case."""
    if found := _YEAR_FIRST.fullmatch(text):
        return _date(found[1], found[3], found[4])
    if found := _NUMERIC.fullmatch(text):
        if found[2] == "-" and len(found[4]) == 2:
            return NoMoment("not_a_date")
        return _ordered(found[1], found[3], found[4], order)
    if (found := _DAY_NAMED.fullmatch(text)) and found[2][:3] in MONTHS:
        return _date(found[3], str(MONTHS.index(found[2][:3]) + 1), found[1])
    if (found := _NAMED_DAY.fullmatch(text)) and found[1][:3] in MONTHS:
        return _date(found[3], str(MONTHS.index(found[1][:3]) + 1), found[2])
    return NoMoment("not_a_date")


def _ordered(first: str, second: str, year: str, order: DateOrder) -> date | NoMoment:
    day_first, month_first = _date(year, second, first), _date(year, first, second)
    if order == "day_first":
        return day_first
    if order == "month_first":
        return month_first
    readings = {reading for reading in (day_first, month_first) if isinstance(reading, date)}
    if len(readings) == 1:
        return readings.pop()
    return NoMoment("ambiguous_date" if readings else "not_a_date")


def _date(year: str, month: str, day: str) -> date | NoMoment:
    full = int(year) + (2000 if len(year) == 2 else 0)
    if not FIRST_YEAR <= full <= LAST_YEAR:
        return NoMoment("not_a_date")
    try:
        return date(full, int(month), int(day))
    except ValueError:
        return NoMoment("not_a_date")


def _at(day: date, clock: re.Match[str]) -> Moment | NoMoment:
    hour, half = int(clock[1]), (clock[5] or "")[:1]
    if half and not 1 <= hour <= 12:
        return NoMoment("not_a_date")
    if half:
        hour = hour % 12 + (12 if half == "p" else 0)
    if hour > 23:
        return NoMoment("not_a_date")
    micro = int((clock[4] or "0").ljust(6, "0"))
    when = datetime(day.year, day.month, day.day, hour, int(clock[2]), int(clock[3] or 0), micro)
    if clock[6] is None:
        return Moment(when, is_date=False)
    return Moment(when.replace(tzinfo=_zone(clock[6])).astimezone(UTC), is_date=False)


def _zone(offset: str) -> timezone:
    if offset in ("z", "utc"):
        return UTC
    size = timedelta(hours=int(offset[1:3]), minutes=int(offset[-2:]))
    return timezone(-size if offset[0] == "-" else size)
