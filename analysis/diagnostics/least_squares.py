"""Least squares with every coffee at a level of its own: the plain fit that leverage and residual checks rest on."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analysis.diagnostics.case import Case, basis, moving
from analysis.effects.fit import Floats, Ints

LEVERAGE_ONE = 1 - 1e-8
"""A leverage above this is 1 up to rounding: the fit goes through the brew whatever it reads."""
NO_SCATTER = 1e-20
"""Residual squares under this share of the response's are rounding, not scatter."""


@dataclass(frozen=True)
class PlainFit:
    """Least squares of n brews on p numbers, k of them slopes.

    `kept` (k,) are the places of the slopes in `Case.terms`; `estimate`, `std_error` (k,) belong to them, in the
    response's unit per unit of the column; `residual`, `leverage` (n,); `x` (n, p) are the columns, slopes first;
    `sigma` is the residual standard deviation on `df` = n - p degrees of freedom.
    """

    kept: Ints
    estimate: Floats
    std_error: Floats
    residual: Floats
    leverage: Floats
    x: Floats
    sigma: float
    df: int

    @property
    def hat(self) -> Floats:
        """Orthonormal basis of the columns, shape (n, p): the hat matrix is hat @ hat.T."""
        return basis(self.x)

    def studentised(self) -> Floats:
        """Residuals over their own standard deviation (internally studentised), 0 where the leverage is 1."""
        room = np.sqrt(np.clip(1 - self.leverage, 0, None))
        free = self.leverage < LEVERAGE_ONE
        return np.divide(self.residual, self.sigma * room, out=np.zeros_like(self.residual), where=free)


def plain_fit(case: Case) -> PlainFit | None:
    """The plain fit of a case; None when no brew is left over to judge scatter by, or there is no scatter.

    Slopes that stand still within the groups, or that others give back exactly, are left out (see `kept`).
    """
    kept = independent(case)
    x = np.column_stack([case.slopes[:, kept], case.levels])
    return fit_plain(case.y, x, np.array(kept, dtype=np.int64))


def fit_plain(y: Floats, x: Floats, kept: Ints) -> PlainFit | None:
    """Least squares of `y` (n,) on full-rank `x` (n, p), whose first `kept.size` columns are slopes."""
    n, p = x.shape
    if n <= p:
        return None
    length = np.sqrt(np.sum(x * x, axis=0))
    q, r = np.linalg.qr(x / length)
    middle = float(y.mean())
    residual = (y - middle) - q @ (q.T @ (y - middle))
    squares = float(residual @ residual)
    if squares <= NO_SCATTER * max(float((y - middle) @ (y - middle)), NO_SCATTER * float(y @ y)):
        return None
    inverse = np.linalg.inv(r)
    estimate = inverse @ (q.T @ y) / length
    sigma = float(np.sqrt(squares / (n - p)))
    std_error = sigma * np.sqrt(np.sum(inverse**2, axis=1)) / length
    leverage = np.sum(q * q, axis=1)
    k = kept.size
    return PlainFit(kept, estimate[:k], std_error[:k], residual, leverage, x, sigma, n - p)


def independent(case: Case) -> list[int]:
    """Places of the slopes that move within the groups and that no earlier slope gives back, in order."""
    kept: list[int] = []
    span = np.zeros((case.n, 0))
    for k in moving(case.within, case.slopes):
        column = case.within[:, [k]] / np.sqrt(np.sum(case.within[:, k] ** 2))
        if moving(column - span @ (span.T @ column), column):
            kept.append(k)
            span = basis(np.column_stack([span, column]))
    return kept
