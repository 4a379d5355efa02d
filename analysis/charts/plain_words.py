"""Sentences of an analysis as the page says them: the trade's words for column names, degrees with their sign."""

from __future__ import annotations

import re

from analysis.effects.factors import FACTORS

NOUNS: dict[str, str] = {name: factor.noun for name, factor in FACTORS.items()} | {
    "extraction_yield_pct": "extraction yield",
    "dose_g": "the dose",
    "beverage_g": "the beverage weight",
    "water_g": "the water weight",
}
"""The word for each column that an analysis may name."""
_COLUMN = re.compile(rf"\b({'|'.join(sorted(NOUNS, key=len, reverse=True))})\b")


def degrees(text: str) -> str:
    """Celsius and micrometres with their signs.

    >>> degrees("1 C hotter: +0.10 points"), degrees("20 um finer")
    ('1 °C hotter: +0.10 points', '20 µm finer')
    """
    return re.sub(r"(?<=\d) um\b", " µm", re.sub(r"(?<=\d) C\b", " °C", text))


def plain_words(text: str) -> str:
    """A note, a reason or a count of left-out brews without column names; every sentence begins with a capital.

    >>> plain_words("9 of 82 brews left out: 3 void, 6 without channeled")
    '9 of 82 brews left out: 3 void, 6 without a note on channeling'
    >>> plain_words("extraction_yield_pct and beverage_ratio share beverage_g and dose_g")
    'extraction yield and beverage ratio share the beverage weight and the dose'
    """
    noted = text.replace("without channeled", "without a note on channeling")
    said = degrees(_COLUMN.sub(lambda found: NOUNS[found[0]], noted))
    return re.sub(r"(?<=\. )[a-z]", lambda first: first[0].upper(), said)
