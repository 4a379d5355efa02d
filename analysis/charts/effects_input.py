"""What the page needs of one effects analysis, whoever made it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

import polars as pl


class EffectsLike(Protocol):
    """One fitted model.

    `table`: EFFECT_COLUMNS, one row per term. `residuals`: `brew_id`, `fitted`, `residual` in the unit of the
    response. `notes`: sentences about the fit (singular, not converged). `sigma`: spread of like brews.
    """

    @property
    def table(self) -> pl.DataFrame:
        """The effects table."""

    @property
    def sentences(self) -> Sequence[str]:
        """The same in words."""

    @property
    def residuals(self) -> pl.DataFrame:
        """Fitted value and residual of every brew used."""

    @property
    def notes(self) -> Sequence[str]:
        """What to know about the fit."""

    @property
    def sigma(self) -> float:
        """Standard deviation of a brew about what the model expects, in the unit of the response."""


@dataclass(frozen=True)
class MethodEffects:
    """The analysis of one method: a fitted model, or the sentence that says why there is none."""

    method: str
    result: EffectsLike | None = None
    refusal: str = ""
