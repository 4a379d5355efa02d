"""The text of a typed workbook cell: numbers without lost digits, dates as ISO, clock times as h:mm:ss."""

from __future__ import annotations

import re
from datetime import datetime, timedelta
from decimal import Decimal
from functools import lru_cache
from typing import Literal

Look = Literal["number", "percent", "date", "time"]
_QUOTED = re.compile(r'"[^"]*"|\\.|_.|\*.|\[(?!h+\]|m+\]|s+\])[^\]]*\]', re.IGNORECASE)
_LAST_1900_DATE_ISSUE = 60
_LAST_SERIAL = 2_958_466
_DAYS_SURELY_DURATION = 366


@lru_cache(maxsize=4096)
def look_of(number_format: str) -> Look:
    """What a number format shows a number as.

    >>> look_of("0.0%"), look_of("d.m.yyyy"), look_of("[h]:mm:ss"), look_of('0.0 "days"')
    ('percent', 'date', 'time', 'number')
    """
    code = _QUOTED.sub("", number_format.partition(";")[0]).lower()
    if code.strip() == "general":
        return "number"
    if "y" in code or "d" in code:
        return "date"
    if "h" in code or "s" in code or "[m" in code:
        return "time"
    if "m" in code:
        return "date"
    return "percent" if "%" in code else "number"


def number_text(stored: str) -> str:
    """The shortest text that is this very number, a whole one without point.

    >>> number_text("18.0"), number_text("4.3499999999999996"), number_text("1E-3"), number_text("250")
    ('18', '4.35', '0.001', '250')
    """
    value = float(stored)
    if value.is_integer() and abs(value) < 1e16:
        return str(int(value))
    return format(Decimal(repr(value)), "f")


def padded(text: str, number_format: str) -> str:
    """A whole number with the leading zeros that its cell shows: 7 under the format 000 is an id 007.

    >>> padded("7", "000"), padded("18.5", "000"), padded("7", "General")
    ('007', '18.5', '7')
    """
    shows_zeros = set(number_format) == {"0"} and text.isdigit()
    return text.zfill(len(number_format)) if shows_zeros else text


def percent_text(stored: str) -> str:
    """A number shown as a percentage, as it is shown: 0.0135 is '1.35%'."""
    shown = (Decimal(repr(float(stored))) * 100).normalize()
    return format(shown, "f") + "%"


def time_text(days: float) -> str:
    """Days as h:mm:ss, to the millisecond.

    >>> time_text(28 / 1440), time_text(1.5), time_text(28.5 / 86400)
    ('0:28:00', '36:00:00', '0:00:28.5')
    """
    thousandths = round(abs(days) * 86_400_000)
    seconds, rest = divmod(thousandths, 1000)
    fraction = f".{rest:03d}".rstrip("0") if rest else ""
    sign = "-" if days < 0 and thousandths else ""
    return f"{sign}{seconds // 3600}:{seconds // 60 % 60:02d}:{seconds % 60:02d}{fraction}"


def is_clock(serial: float, number_format: str) -> bool:
    """True when a number with a date or time format is a time of day or a duration, not a day."""
    if 0 <= serial < 1:
        return look_of(number_format) == "time" or "h" in number_format.lower()
    return look_of(number_format) == "time" and ("[" in number_format or abs(serial) < _DAYS_SURELY_DURATION)


def date_text(serial: float, *, from_1904: bool) -> str:
    """A day number as ISO 8601, with the time of day unless it is midnight; a number out of range stays a number.

    >>> date_text(46115.0, from_1904=False), date_text(46115.385416666664, from_1904=False)
    ('2026-04-03', '2026-04-03T09:15:00')
    """
    if not 0 <= serial < _LAST_SERIAL:
        return number_text(repr(serial))
    start = datetime(1904, 1, 1) if from_1904 else datetime(1899, 12, 30 if serial >= _LAST_1900_DATE_ISSUE else 31)
    moment = start + timedelta(milliseconds=round(serial * 86_400_000))
    if moment.microsecond:
        return moment.isoformat(timespec="milliseconds")
    return moment.date().isoformat() if moment.time() == datetime.min.time() else moment.isoformat(timespec="seconds")
