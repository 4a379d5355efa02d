"""Limits of agreement for single readings, and how well a few brews know them.

Bland and Altman (1986, 1999): the mean difference -+ 1.96 sd holds 95 % of differences. The sd here is that of a
difference of two single readings, also where repeats were averaged: the variance between brew means plus what
averaging took away within brews (1999, section 5).

Intervals come from the noncentral t distribution: exact for normal differences without repeats (Carkeet 2015); where
repeats add to the variance, with Satterthwaite's degrees of freedom. In simulation these cover 94 to 96 %, where the
approximate intervals of 1999 cover 92 to 97 % and MOVER 95 to 99 % (tests/reference/agreement/coverage.csv).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy import stats

from analysis.measurement.deming import LEVEL

Floats = npt.NDArray[np.float64]
FACTOR = 1.96
"""As published; 95.0004 % of a normal distribution."""


@dataclass(frozen=True, slots=True)
class Part:
    """A scatter inside brews: its pooled variances, shape (...), their df, and its share in a single difference."""

    variance: Floats
    df: int
    single: float


@dataclass(frozen=True, slots=True)
class Reach:
    """From the bias to a limit: estimate, and both ends of its interval; all shape (...), in the data's unit.

    `sd_single` is the sd of a difference of two single readings, `df` its degrees of freedom.
    """

    sd_single: Floats
    df: Floats
    estimate: Floats
    inner: Floats
    outer: Floats


def reach_of_limits(
    variance_of_means: Floats, n: int, inside: Sequence[Part], *, factor: float = FACTOR, level: float = LEVEL
) -> Reach:
    """How far the limits lie from the bias; `variance_of_means`, shape (...), is that of n differences of brew means.

    With V the variance of a single difference and m = n V / variance_of_means, the limit is known as
    `sqrt(V / m) t'(df, factor sqrt(m))`, t' noncentral; without repeats V is the variance of means and m = n.
    """
    parts = [(variance_of_means, n - 1), *((part.single * part.variance, part.df) for part in inside)]
    variance = sum((value for value, _ in parts), np.zeros_like(variance_of_means))
    df = variance**2 / sum((value**2 / freedom for value, freedom in parts), np.zeros_like(variance))
    in_effect = n * variance / variance_of_means
    sd = np.sqrt(variance)
    low, high = (
        sd / np.sqrt(in_effect) * stats.nct.ppf(tail, df, factor * np.sqrt(in_effect))
        for tail in (0.5 - level / 2, 0.5 + level / 2)
    )
    return Reach(sd, df, factor * sd, low, high)
