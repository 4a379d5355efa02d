"""Probability that two normal values fall into a rectangle, exactly and for whole arrays at once."""

from __future__ import annotations

import numpy as np
from scipy import special

from analysis.mixed.arrays import Floats

FAR = 38.0
"""Beyond this many standard deviations nothing is left of a normal in double precision."""


def normal_both_below(h: Floats, k: Floats, r: Floats) -> Floats:
    """P(X < h, Y < k) of standard normals with correlation `r`, -1 < r < 1; shapes broadcast.

    Owen (1956), Annals of Mathematical Statistics 27:1075, equation 2.1: two of his T functions.
    """
    h, k, r = np.broadcast_arrays(np.clip(h, -FAR, FAR), np.clip(k, -FAR, FAR), r)
    # At zero the slopes k / h have no value; a step of 1e-300 gives their limit.
    h, k = np.where(h == 0, 1e-300, h), np.where(k == 0, 1e-300, k)
    root = np.sqrt((1 - r) * (1 + r))
    with np.errstate(over="ignore"):
        first, second = (k / h - r) / root, (h / k - r) / root
    half = 0.5 * (special.ndtr(h) + special.ndtr(k))
    apart = np.where(h * k < 0, 0.5, 0.0) + np.where((h * k == 0) & (np.sign(h) != np.sign(k)), 0.5, 0.0)
    below = half - special.owens_t(h, first) - special.owens_t(k, second) - apart
    return np.asarray(np.clip(below, 0.0, 1.0), dtype=np.float64)


def normal_inside(
    mean: tuple[Floats, Floats],
    sd: tuple[Floats, Floats],
    correlation: Floats,
    ends: tuple[tuple[float, float], tuple[float, float]],
) -> Floats:
    """Probability of landing between both pairs of `ends`; means, deviations and correlation broadcast."""
    (low_x, high_x), (low_y, high_y) = (
        tuple((end - m) / s for end in pair) for pair, m, s in zip(ends, mean, sd, strict=True)
    )
    inside = (
        normal_both_below(high_x, high_y, correlation)
        - normal_both_below(low_x, high_y, correlation)
        - normal_both_below(high_x, low_y, correlation)
        + normal_both_below(low_x, low_y, correlation)
    )
    return np.asarray(np.clip(inside, 0.0, 1.0), dtype=np.float64)
