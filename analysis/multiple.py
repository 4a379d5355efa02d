"""p-values adjusted for the number of questions asked: Holm, Benjamini and Hochberg."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]


def holm(p_values: ArrayLike) -> Floats:
    """Step-down adjusted p-values (n,) of `p_values` (n,): they bound the chance of even one false finding.

    Whatever the dependence between the questions. NaN stays NaN and counts as no question; ValueError for a value
    outside 0 to 1. Holm (1979) Scandinavian Journal of Statistics 6:65, theorem 1.

    >>> holm([0.01, 0.04, 0.03]).tolist()
    [0.03, 0.06, 0.06]
    """
    return _adjusted(p_values, _step_down)


def benjamini_hochberg(p_values: ArrayLike) -> Floats:
    """Step-up adjusted p-values (n,) of `p_values` (n,): they bound the expected share of false ones among findings.

    For independent or positively dependent questions. NaN stays NaN and counts as no question; ValueError for a value
    outside 0 to 1. Benjamini & Hochberg (1995) Journal of the Royal Statistical Society B 57:289, section 3.

    >>> benjamini_hochberg([0.01, 0.04, 0.03]).round(12).tolist()
    [0.03, 0.04, 0.04]
    """
    return _adjusted(p_values, _step_up)


def _step_down(ascending: Floats) -> Floats:
    m = ascending.size
    return np.maximum.accumulate((m - np.arange(m)) * ascending)


def _step_up(ascending: Floats) -> Floats:
    m = ascending.size
    scaled = m / np.arange(1, m + 1) * ascending
    return np.minimum.accumulate(scaled[::-1])[::-1]


def _adjusted(p_values: ArrayLike, step: Callable[[Floats], Floats]) -> Floats:
    """Sort what is there, adjust it, cap it at 1 and put it back in its place."""
    values = np.array(p_values, dtype=np.float64).reshape(-1)
    asked = ~np.isnan(values)
    p = values[asked]
    if ((p < 0) | (p > 1)).any():
        raise ValueError("a p-value lies between 0 and 1")
    order = np.argsort(p, kind="stable")
    adjusted = np.empty_like(p)
    adjusted[order] = np.minimum(step(p[order]), 1.0)
    values[asked] = adjusted
    return values
