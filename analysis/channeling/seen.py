"""The brews of one method that channeling is judged from: sound ones, looked at or not."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import polars as pl

from analysis.effects.factors import plural
from analysis.words import method_word
from schemas.problem import ProblemError

FEWEST_LOOKED_AT = 10
YieldColumn = Literal["extraction_yield_pct", "extraction_yield_dry_pct"]
"""The yields that channeled and clean brews are compared by."""


@dataclass(frozen=True, slots=True)
class NotShown:
    """Why a part of the report cannot be shown, as sentences that say what would let it."""

    said: str


@dataclass(frozen=True, slots=True)
class SeenCounts:
    """Sound brews of a method by what was seen; `slight` and `severe` make up `channeled`."""

    channeled: int
    clean: int
    not_looked_at: int
    slight: int
    severe: int

    @property
    def looked_at(self) -> int:
        """Channeled and clean."""
        return self.channeled + self.clean

    @property
    def all(self) -> int:
        """Looked at or not."""
        return self.looked_at + self.not_looked_at


def sound_brews(facts: pl.DataFrame, *, method: str) -> pl.DataFrame:
    """The brews of a method that are not void, in the order of the facts; refused where there are none."""
    of_method = facts.filter(pl.col("method") == method)
    sound = of_method.filter(~pl.col("is_void").fill_null(value=False))
    if sound.is_empty():
        voided = f" that is not void ({of_method.height} are)" if of_method.height else ""
        raise ProblemError(f"There is no brew of {method_word(method)}{voided}, so nothing can be said of channeling.")
    return sound


def count_seen(sound: pl.DataFrame) -> SeenCounts:
    """How many sound brews channeled, ran clean, were not looked at."""
    seen, grade = sound["channeled"], sound["channeling"]
    return SeenCounts(
        channeled=int(seen.sum()),
        clean=int((~seen).sum()),
        not_looked_at=seen.null_count(),
        slight=int((grade == "slight").sum()),
        severe=int((grade == "severe").sum()),
    )


def refuse_one_sided(looked_at: pl.DataFrame, method: str) -> None:
    """Refuse fewer than `FEWEST_LOOKED_AT` brews looked at, and brews that all channeled or all ran clean."""
    n, channeled = looked_at.height, int(looked_at["channeled"].sum())
    word = method_word(method)
    if n < FEWEST_LOOKED_AT:
        raise ProblemError(
            f"Only {plural('brew', n)} of {word} {'was' if n == 1 else 'were'} looked at for channeling; at least "
            f"{FEWEST_LOOKED_AT} are needed. Write none, slight or severe for every brew."
        )
    if channeled in (0, n):
        every, other = ("None", "a channeled") if channeled == 0 else ("Each", "a clean")
        raise ProblemError(
            f"{every} of the {n} brews of {word} looked at channeled, so nothing tells what goes with channeling. "
            f"It takes {other} one to compare with."
        )
