"""One header cell taken apart: what it names, and the unit it gives."""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass
from functools import lru_cache

from schemas.plain import plain

_BRACKETS = re.compile(r"[(\[{]([^)\]}]*)[)\]}]")
_TAIL = re.compile(r"^(.*?)[\s_,/]+((?:in\s+)?(?:deg(?:rees)?\s+|°\s*)?[^\s_,/]+|g/s)$", re.IGNORECASE)
_NUMBERED = re.compile(r"^(.*?) (\d{1,3})$")


@dataclass(frozen=True, slots=True)
class HeaderReading:
    """One way to read a header: `own` words without the unit, in plain form with any trailing number apart.

    `unit` is as written; `bracketed` tells whether brackets held it.
    """

    own: str
    words: str
    number: int | None
    unit: str
    bracketed: bool = False


@lru_cache(maxsize=4096)
def header_readings(header: str) -> tuple[HeaderReading, ...]:
    """Ways to read a header, the most literal first.

    >>> [(r.words, r.unit) for r in header_readings("Water temp °F")]
    [('water temp f', ''), ('water temp', '°F')]
    >>> [(r.words, r.number, r.unit) for r in header_readings("TDS 2 (%)")]
    [('tds 2 pct', None, ''), ('tds', 2, '%')]
    """
    text = unicodedata.normalize("NFKC", header).strip()
    literal = _reading(text, "", False)
    bracket = _BRACKETS.search(text)
    if bracket is not None:
        return literal, _reading(_BRACKETS.sub(" ", text, count=1), bracket.group(1).strip(), True)
    if text.endswith("%"):
        return literal, _reading(text.removesuffix("%"), "%", False)
    if tail := _TAIL.match(text):
        return literal, _reading(tail.group(1), tail.group(2), False)
    return (literal,)


def _reading(words: str, unit: str, bracketed: bool) -> HeaderReading:
    text, own = plain(words), " ".join(words.split())
    numbered = _NUMBERED.match(text)
    if numbered is None:
        return HeaderReading(own, text, None, unit, bracketed)
    return HeaderReading(own, numbered.group(1).removesuffix(" no"), int(numbered.group(2)), unit, bracketed)


def whole(reading: HeaderReading) -> str:
    """The words with their trailing number."""
    return reading.words if reading.number is None else f"{reading.words} {reading.number}"
