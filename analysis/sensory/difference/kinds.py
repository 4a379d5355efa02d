"""The kinds of difference test, what guessing gives in each, and the checks of a level."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Literal

from schemas.problem import ProblemError

Kind = Literal["triangle", "duo_trio", "paired"]
KINDS: tuple[Kind, ...] = ("triangle", "duo_trio", "paired")
CHANCE: Mapping[Kind, float] = {"triangle": 1 / 3, "duo_trio": 1 / 2, "paired": 1 / 2}
"""The share that guessing gets right."""
KIND_WORDS: Mapping[Kind, str] = {"triangle": "triangle", "duo_trio": "duo-trio", "paired": "paired"}
TASK: Mapping[Kind, str] = {
    "triangle": "picked the odd cup",
    "duo_trio": "found the cup that matches the reference",
    "paired": "picked the right cup",
}
"""What a right answer is called."""


def check_level(level: float) -> None:
    """Raise ProblemError unless `level` is a chance of a false alarm between 0 and 0.5."""
    if not 0 < level < 0.5:
        raise ProblemError(f"A level of {level:g} is no level: it must lie between 0 and 0.5, such as 0.05.")


def check_share(share: float, *, what: str) -> None:
    """Raise ProblemError unless `share` lies between 0 and 1, both excluded."""
    if not 0 < share < 1:
        raise ProblemError(f"{what}: {share:g} is not between 0 and 1. 20 % is written 0.2.")
