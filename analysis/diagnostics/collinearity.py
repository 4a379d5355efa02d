"""Whether the settings moved apart: correlations, variance inflation, condition indices and variance shares."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analysis.effects.fit import Floats

PERFECT = 1e-10
"""A tolerance (1 / VIF) under this is perfect collinearity: double precision keeps no digit of the slope."""


@dataclass(frozen=True)
class Conditions:
    """Condition indices (p,) of columns scaled to unit length, ascending, and variance shares (p, p).

    `shares[i, k]` is the share of the variance of coefficient `k` that hangs on condition index `i`; each column
    sums to 1. Belsley, Kuh & Welsch (1980), Regression Diagnostics, chapter 3.
    """

    indices: Floats
    shares: Floats


def inflation(x: Floats) -> Floats:
    """Variance inflation of each column of `x` (n, k), which has its intercepts taken out already, shape (k,).

    The column's squares over what is left of them when the other columns have explained what they can; infinite when
    nothing is left. Belsley, Kuh & Welsch (1980), section 3.2.
    """
    length = np.sqrt(np.sum(x * x, axis=0))
    unit = x / length
    out = np.ones(x.shape[1])
    for k in range(x.shape[1]):
        others = np.delete(unit, k, axis=1)
        if others.shape[1] == 0:
            continue
        left = unit[:, k] - others @ np.linalg.lstsq(others, unit[:, k], rcond=PERFECT)[0]
        tolerance = float(left @ left)
        out[k] = 1 / tolerance if tolerance > PERFECT else np.inf
    return out


def conditions(x: Floats) -> Conditions:
    """Condition indices and variance shares of the columns of `x` (n, p), n >= p, scaled to unit length here."""
    unit = x / np.sqrt(np.sum(x * x, axis=0))
    _, size, axes = np.linalg.svd(unit, full_matrices=False)
    floor = np.finfo(np.float64).eps * size[0]
    size = np.maximum(size, floor)
    parts = (axes / size[:, None]) ** 2
    return Conditions(np.asarray(size[0] / size), np.asarray(parts / parts.sum(axis=0)))


def correlation(first: Floats, second: Floats) -> float:
    """Correlation of two columns that have their intercepts taken out; 0 when one stands still."""
    size = float(np.sqrt((first @ first) * (second @ second)))
    return float(np.clip(first @ second / size, -1, 1)) if size > 0 else 0.0
