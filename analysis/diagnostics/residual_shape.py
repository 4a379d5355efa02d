"""Whether residuals have the shape that intervals of few brews lean on, and whether one brew lies far out."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import stats

from analysis.effects.fit import Floats

FEWEST = 8
"""Below this many residuals the test hardly sees anything short of a wild value."""
MOST = 5000
"""Above this the test's p-value is not tabled, and the shape no longer matters to an interval of a slope."""


@dataclass(frozen=True, slots=True)
class Shape:
    """Shapiro and Wilk's W with its p-value, and the skewness of the residuals (negative: stragglers below)."""

    statistic: float
    p_value: float
    skewness: float


def shape(residual: Floats) -> Shape | None:
    """The shape of residuals (n,); None below 8 or above 5,000 of them, or when all are equal.

    Shapiro & Wilk (1965), Biometrika 52:591, with Royston's p-value (1995), Applied Statistics 44:547.
    """
    if not FEWEST <= residual.size <= MOST or np.ptp(residual) == 0:
        return None
    found = stats.shapiro(residual)
    return Shape(float(found.statistic), float(found.pvalue), float(stats.skew(residual)))


@dataclass(frozen=True, slots=True)
class Furthest:
    """The row with the largest externally studentised residual, and its p-value times the residuals compared."""

    row: int
    statistic: float
    p_value: float
    n_compared: int


def furthest(external: Floats, df: int) -> Furthest | None:
    """The most outlying of externally studentised residuals (n,), NaN where a brew has none, of a fit with `df`.

    t on df - 1, Bonferroni over the residuals: Cook & Weisberg (1982), Residuals and Influence in Regression, 2.2.2.
    """
    known = np.isfinite(external)
    if df < 2 or not known.any():
        return None
    row = int(np.argmax(np.where(known, np.abs(external), -1.0)))
    n = int(known.sum())
    p_value = min(1.0, n * float(2 * stats.t.sf(abs(external[row]), df - 1)))
    return Furthest(row, float(external[row]), p_value, n)
