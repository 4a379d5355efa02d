"""How far each setting was moved, in how many levels, and how much of the declared range that covers."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import polars as pl

from analysis.diagnostics.case import Case
from analysis.diagnostics.setting_words import unit_of, value_words
from analysis.effects.factors import FACTORS
from analysis.effects.fit import Floats, Ints

ROUNDED = 9
"""Decimals at which two settings are the same."""
SHOWN_LEVELS = 8

RANGE_SCHEMA = {
    "factor": pl.String,
    "unit": pl.String,
    "low": pl.Float64,
    "high": pl.Float64,
    "levels": pl.Int64,
    "brews_per_level": pl.String,
    "moved_in": pl.Int64,
    "declared_low": pl.Float64,
    "declared_high": pl.Float64,
    "covered": pl.Float64,
}


@dataclass(frozen=True)
class Range:
    """One factor as brewed, in its unit, beside the `declared` range (low, high; None: not declared).

    `values` (n,); `levels` and `counts` are the distinct settings and their brews; `moved_in` counts the groups in
    which it took more than one value; `covered` is the share of the declared range that was brewed.
    """

    name: str
    values: Floats
    levels: Floats
    counts: Ints
    moved_in: int
    declared: tuple[float, float] | None
    covered: float | None

    @property
    def low(self) -> float:
        """The lowest setting brewed."""
        return float(self.values.min())

    @property
    def high(self) -> float:
        """The highest setting brewed."""
        return float(self.values.max())

    def row(self) -> dict[str, object]:
        """One row of the table, in the columns of RANGE_SCHEMA."""
        shown = "; ".join(f"{value_words(self.name, v)}: {n}" for v, n in zip(self.levels, self.counts, strict=True))
        spread = f"{self.counts.min()} to {self.counts.max()}"
        return {
            "factor": self.name,
            "unit": unit_of(self.name),
            "low": self.low,
            "high": self.high,
            "levels": self.levels.size,
            "brews_per_level": shown if self.levels.size <= SHOWN_LEVELS else spread,
            "moved_in": self.moved_in,
            "declared_low": self.declared[0] if self.declared else None,
            "declared_high": self.declared[1] if self.declared else None,
            "covered": self.covered,
        }


def range_of(case: Case, name: str, declared: tuple[float, float] | None) -> Range:
    """How far the factor `name` was moved; yes or no has no declared range."""
    values = case.brews[name].cast(pl.Float64).to_numpy()
    rounded = np.round(values, ROUNDED)
    levels, counts = np.unique(rounded, return_counts=True)
    moved_in = sum(1 for code in range(case.n_groups) if np.ptp(rounded[case.codes == code]) > 0)
    span = None if FACTORS[name].is_yes_no or declared is None else (min(declared), max(declared))
    return Range(name, values, levels, counts, moved_in, span, None if span is None else _covered(values, *span))


def _covered(values: Floats, low: float, high: float) -> float:
    if high == low:
        return 1.0
    return max(0.0, min(float(values.max()), high) - max(float(values.min()), low)) / (high - low)
