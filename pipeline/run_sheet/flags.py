"""What is typed after an option of a plan, read strictly: ranges, values, and settings that cannot be brewed."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass

from schemas.problem import ProblemError
from schemas.run_sheet import SAME_ON_EVERY_ROW
from schemas.study import Condition, Impossible

COMPARISON = re.compile(r"\s*([a-z_]+)\s*(>=|<=)\s*(-?[0-9.]+)\s*")


@dataclass(frozen=True, slots=True)
class Range:
    """NAME=LOW:HIGH[:STEP] as typed; `step` is None where it was left to us."""

    name: str
    low: float
    high: float
    step: float | None


def read_range(text: str) -> Range:
    """A setting and its range.

    >>> read_range("water_temp_c=90:96:2")
    Range(name='water_temp_c', low=90.0, high=96.0, step=2.0)
    """
    name, equals, rest = text.partition("=")
    parts = rest.split(":")
    if not name.strip() or not equals or len(parts) not in (2, 3):
        raise ProblemError(
            f"{text!r} is no range. Write NAME=LOW:HIGH or NAME=LOW:HIGH:STEP, such as water_temp_c=90:96:2."
        )
    low, high, *step = (_number(part, text) for part in parts)
    return Range(name.strip(), low, high, step[0] if step else None)


def read_values(texts: Sequence[str], *, what: str) -> dict[str, float]:
    """NAME=VALUE pairs by name."""
    found: dict[str, float] = {}
    for text in texts:
        name, value = read_pair(text, what=what)
        found[name] = _number(value, text)
    return found


def read_pair(text: str, *, what: str) -> tuple[str, str]:
    """A name and what it is set to, both as text."""
    name, equals, value = text.partition("=")
    if not equals or not name.strip() or not value.strip():
        raise ProblemError(f"{text!r} is no {what}. Write NAME=VALUE, such as dose_g=18.")
    return name.strip(), value.strip()


def read_cells(texts: Sequence[str]) -> dict[str, str]:
    """COLUMN=TEXT pairs for cells that are the same on every row of a run sheet.

    >>> read_cells(["scale_id=s-1"])
    {'scale_id': 's-1'}
    """
    found = dict(read_pair(text, what="cell") for text in texts)
    unknown = [name for name in found if name not in SAME_ON_EVERY_ROW]
    if unknown:
        raise ProblemError(
            f"{unknown[0]!r} cannot be filled in on every row. Columns that can: {', '.join(SAME_ON_EVERY_ROW)}."
        )
    return found


def read_impossible(text: str) -> Impossible:
    """Settings that cannot be brewed: comparisons joined by commas, all of which hold.

    >>> read_impossible("grind_steps_finer>=1,water_temp_c>=95").conditions[1].at_least
    95.0
    """
    conditions = []
    for part in text.split(","):
        match = COMPARISON.fullmatch(part)
        if match is None:
            raise ProblemError(f"{text!r} is no condition. Write it like grind_steps_finer>=2,water_temp_c<=91.")
        name, sign, value = match.groups()
        number = _number(value, text)
        conditions.append(Condition(name, number, None) if sign == ">=" else Condition(name, None, number))
    return Impossible(tuple(conditions), text)


def read_sessions(texts: Sequence[str]) -> int:
    """The number of sessions from --block session=N; 1 where it is not said."""
    blocks = read_values(texts, what="block")
    unknown = [name for name in blocks if name != "session"]
    if unknown:
        raise ProblemError(
            f"Brews are blocked by session and by coffee, not by {unknown[0]}. Write --block session=2; coffees are "
            "blocks by themselves."
        )
    count = blocks.get("session", 1.0)
    if count < 1 or count != math.floor(count):
        raise ProblemError(f"{count:g} is no number of sessions; write --block session=2.")
    return int(count)


def _number(text: str, whole: str) -> float:
    try:
        value = float(text)
    except ValueError:
        value = math.nan
    if not math.isfinite(value):
        raise ProblemError(f"{text.strip()!r} in {whole!r} is no number. Use digits and a decimal point, such as 1.5.")
    return value
