"""The answer of the first screen: one paragraph and one small table."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Kind = Literal["obstacle", "apart", "more", "repeat", "confirm"]
KINDS: tuple[Kind, ...] = ("obstacle", "apart", "more", "repeat", "confirm")
"""In the order they are worth brewing for: what stands in the way, settings that moved together, an effect that is
open, settings brewed once, a recipe to confirm."""
MOST_ROWS = 5


@dataclass(frozen=True, slots=True)
class NextRow:
    """What to brew (or do), how many, why, and what that would settle."""

    method: str
    what: str
    how_many: str
    why: str
    settles: str


@dataclass(frozen=True, slots=True)
class Candidate:
    """One thing worth doing: its rows, and the sentence that leads the paragraph when it comes first."""

    kind: Kind
    said: str
    rows: tuple[NextRow, ...]


@dataclass(frozen=True, slots=True)
class NextBrews:
    """`paragraph` says what to do first and why; `rows` are at most five. `is_blocked`: something stands in the way."""

    paragraph: str
    rows: tuple[NextRow, ...]
    is_blocked: bool
