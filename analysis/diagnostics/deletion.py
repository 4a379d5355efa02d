"""What every estimate of a mixed model becomes without one brew, the variances held: which brews to look at first."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from analysis.effects.fit import Floats
from analysis.mixed.model import RandomPart

NOTHING_LEFT = 1e-10
"""Share of a brew's own variance under which the model meets it exactly, so that it cannot be taken away."""


def total_variance(n_rows: int, sigma: float, parts: Sequence[RandomPart], components: Mapping[str, float]) -> Floats:
    """Variance matrix (n, n) of the responses: residual on the diagonal, and each part's levels times their slopes."""
    out = np.eye(n_rows) * sigma**2
    for part in parts:
        alike = (part.codes[:, None] == part.codes) * np.outer(part.slope, part.slope)
        out += components.get(part.name, 0.0) * alike
    return out


def held_change(y: Floats, x: Floats, variance: Floats) -> Floats:
    """Estimate with every row less estimate without row i, shape (n, p); NaN where row i cannot be taken away.

    Generalised least squares of `y` (n,) on full-rank `x` (n, p) with `variance` (n, n) held: Christensen, Pearson &
    Johnson (1992), Technometrics 34:38.
    """
    inverse = np.linalg.inv(variance)
    weighted = inverse @ x
    spread = np.linalg.inv(x.T @ weighted)
    residual_maker = inverse - weighted @ spread @ weighted.T
    room = np.diag(residual_maker)
    there = room > NOTHING_LEFT * np.diag(inverse)
    jump = np.divide(residual_maker @ y, room, out=np.full(y.size, np.nan), where=there)
    return np.asarray(jump[:, None] * (weighted @ spread), dtype=np.float64)
