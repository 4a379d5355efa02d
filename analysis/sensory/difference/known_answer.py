"""A question about strength has a right answer where the readings of the two cups say which is stronger."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass

ASKS = {"stronger": 1, "strongest": 1, "strong": 1, "weaker": -1, "weakest": -1, "weak": -1}
ASKING = frozenset(("which", "of", "the", "these", "two", "is", "was", "one", "a", "please", "pick", "choose", "mark"))
THINGS = frozenset(("cup", "cups", "coffee", "coffees", "sample", "brew", "shot", "tastes", "tasted", "seems"))
"""With `ASKING`, words that ask for nothing by themselves: "Which is stronger in acidity?" is not about strength."""
SURE = 2.0
"""Standard uncertainties of the difference by which readings must lie apart: about 95 %."""


@dataclass(frozen=True, slots=True)
class Strength:
    """Strength in the cup with its standard uncertainty (None: not known), in % TDS."""

    tds_pct: float | None
    u_pct: float | None


@dataclass(frozen=True, slots=True)
class RightBrew:
    """The right answer, or why there is none; `said` is the reason or the readings."""

    brew_id: str | None
    said: str


def asks_strength(question: str | None) -> int:
    """1 where a question asks for the stronger cup and nothing else, -1 for the weaker, 0 for anything else.

    >>> asks_strength("Which cup is stronger?"), asks_strength("weaker"), asks_strength("Which has a stronger smell?")
    (1, -1, 0)
    """
    words = [word for word in re.findall(r"[^\W\d_]+", (question or "").casefold()) if word not in ASKING | THINGS]
    return ASKS.get(words[0], 0) if len(words) == 1 else 0


def right_brew(a: str, b: str, *, asks: int, strengths: Mapping[str, Strength]) -> RightBrew:
    """Which of two brews is stronger (`asks` 1) or weaker (-1), if their readings can say so."""
    nothing = Strength(None, None)
    one, other = strengths.get(a, nothing), strengths.get(b, nothing)
    if one.tds_pct is None or other.tds_pct is None:
        missing = a if one.tds_pct is None else b
        return RightBrew(None, f"{missing} has no strength on record")
    readings = f"{a} {one.tds_pct:.2f} % TDS, {b} {other.tds_pct:.2f} % TDS"
    if one.tds_pct == other.tds_pct:
        return RightBrew(None, f"the readings are equal ({readings})")
    if one.u_pct is None or other.u_pct is None:
        readings += ", uncertainty not known"
    elif abs(one.tds_pct - other.tds_pct) <= SURE * math.hypot(one.u_pct, other.u_pct):
        return RightBrew(None, f"the readings lie within their uncertainty of each other ({readings})")
    stronger_is_a = one.tds_pct > other.tds_pct
    return RightBrew(a if stronger_is_a == (asks > 0) else b, readings)
