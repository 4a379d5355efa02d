"""Rows of an effects table as labels, and which of them the page speaks about."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from analysis.charts.effects_input import EffectsLike
from analysis.effects.factors import FACTORS, Factor, ingredients
from analysis.effects.words import NOT_STATED

Row = dict[str, Any]


@dataclass(frozen=True)
class SaidEffect:
    """The effect of one factor: its row of the effects table and that row's sentence."""

    row: Row
    sentence: str

    @property
    def factor(self) -> Factor:
        """What was varied."""
        return FACTORS[self.row["term"]]

    @property
    def is_settled(self) -> bool:
        """Whether the 95 % interval lies on one side of zero."""
        return bool(self.row["low"] > 0 or self.row["high"] < 0)

    @property
    def is_stated(self) -> bool:
        """Whether the sentence states the effect, rather than why errors of measuring keep it from being stated."""
        return NOT_STATED not in self.sentence

    @property
    def shares_weights(self) -> bool:
        """Whether factor and yield are computed from the same weights, so that weighing noise alone makes a slope."""
        balances = ("percolation", "immersion")
        return bool(ingredients("extraction_yield_pct", balances) & ingredients(self.row["term"], balances))

    @property
    def clearness(self) -> float:
        """How far the estimate lies from zero, in half widths of its interval."""
        half = (self.row["high"] - self.row["low"]) / 2
        return float(abs(self.row["estimate"]) / half) if half > 0 else 0.0


def has_interval(row: Row) -> bool:
    """Whether both ends of the interval are known."""
    return row["low"] is not None and row["high"] is not None


def single_effects(result: EffectsLike) -> list[SaidEffect]:
    """Effects of single factors (no intercept, square or product) that have an interval."""
    rows = zip(result.table.iter_rows(named=True), result.sentences, strict=True)
    return [SaidEffect(row, sentence) for row, sentence in rows if row["term"] in FACTORS and has_interval(row)]


def change_in_words(row: Row) -> str:
    """The change that a row's estimate is stated for, with the grinder where there is one term for each.

    >>> change_in_words({"term": "water_temp_c", "step": 1.0, "per": "1 C"})
    '1 C hotter'
    >>> change_in_words({"term": "grind_steps_finer", "step": 1.0, "per": "1 step on G2"})
    'one step finer on G2'
    """
    factor = FACTORS.get(row["term"])
    if factor is None:
        return f"{row['term'].replace('_', ' ')}, {row['per']}"
    where: str = row["per"].removeprefix(factor.per(row["step"]))
    return factor.change_words(row["step"]) + where
