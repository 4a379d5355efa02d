"""How the errors of two instruments compare: the ratio that Deming regression takes as known, and how well it is."""

from __future__ import annotations

import math

from scipy import stats

from analysis.measurement.deming import LEVEL, ErrorRatio
from analysis.measurement.pairing import Pairs, Scatter

UNKNOWN = 4.0
"""Where nothing is known, one error may be half or twice the other: a ratio of variances between 1/4 and 4."""
MANY = 1e9


def error_ratio(
    pairs: Pairs, scatter_a: Scatter, scatter_b: Scatter, *, resolution_a: float = 0.0, resolution_b: float = 0.0
) -> ErrorRatio:
    """Error variances of a brew's mean on `a` (x) and `b` (y), from pooled repeats and display steps.

    `scatter_a`, `scatter_b`: readings of one sample, from these pairs or from all samples of the instrument; their
    `mean` is the pairs' own. A display step adds `resolution^2 / 12`, which repeats of one sample do not shrink.
    The interval is that of a ratio of two variances (F), display steps taken as known.
    """
    step_a, step_b = (r * r / 12 * pairs.samples.mean for r in (resolution_a, resolution_b))
    part_a, part_b = scatter_a.variance * pairs.readings_a.mean, scatter_b.variance * pairs.readings_b.mean
    if scatter_a.df == 0 or scatter_b.df == 0:
        return _assumed(_which_repeats(pairs, scatter_a, scatter_b))
    error_a, error_b = part_a + step_a, part_b + step_b
    if error_a == 0 and error_b == 0:
        return _assumed("all repeats equal and no display step stated: equal errors assumed")
    basis = f"repeats of {pairs.a} and {pairs.b}, {scatter_a.df} and {scatter_b.df} degrees of freedom"
    if part_a == 0 and part_b == 0:
        basis = "all repeats equal: display steps alone"
    low, high = _interval(error_a, error_b, _df(error_a, part_a, scatter_a.df), _df(error_b, part_b, scatter_b.df))
    return ErrorRatio(error_a, error_b, low, high, known=True, basis=basis)


def _assumed(basis: str) -> ErrorRatio:
    return ErrorRatio(1.0, 1.0, 1 / UNKNOWN, UNKNOWN, known=False, basis=basis)


def _which_repeats(pairs: Pairs, scatter_a: Scatter, scatter_b: Scatter) -> str:
    if scatter_a.df == scatter_b.df:
        return "no repeats: equal errors assumed"
    repeated, other = (pairs.b, pairs.a) if scatter_a.df == 0 else (pairs.a, pairs.b)
    return f"repeats on {repeated} alone: {other} taken to err as much"


def _df(total: float, part: float, df: int) -> float:
    """Degrees of freedom of a variance of which `part` was estimated with `df` (Welch-Satterthwaite)."""
    return min(df * (total / part) ** 2, MANY) if part > 0 else MANY


def _interval(error_a: float, error_b: float, df_a: float, df_b: float) -> tuple[float, float]:
    if error_a == 0:
        return math.inf, math.inf
    ratio, tail = error_b / error_a, 0.5 + LEVEL / 2
    return ratio / float(stats.f.ppf(tail, df_b, df_a)), ratio * float(stats.f.ppf(tail, df_a, df_b))
