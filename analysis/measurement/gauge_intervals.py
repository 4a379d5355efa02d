"""Intervals for variances that are sums and differences of mean squares, many studies at once.

Modified large-sample (MLS) intervals: Graybill and Wang (1980) for sums, Ting, Burdick, Graybill, Jeyaratnam and Lu
(1990) where a mean square is subtracted; for gauge studies Burdick, Borror and Montgomery (2005), chapter 3. They are
exact for a single mean square. Shares: generalised pivotal quantities after Hamada and Weerahandi (2000).
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations, product

import numpy as np
from scipy import stats

from analysis.effects.fit import Floats
from analysis.measurement.gauge_squares import MeanSquares

LEVEL = 0.95
POINTS = 2**10


@dataclass(frozen=True)
class Bounds:
    """Lower and upper ends, shape (runs,); variances in (% TDS)^2, never below zero; shares between 0 and 1."""

    low: Floats
    high: Floats


def _f(p: float, above: float, below: float) -> float:
    """Quantile of F; `below` may be infinite."""
    return float(stats.chi2.ppf(p, above) / above if np.isinf(below) else stats.f.ppf(p, above, below))


def _below(weights: Floats, found: MeanSquares, tail: float) -> Floats:
    """How far below the estimate sum w_k MS_k its lower end lies, shape (runs,); `tail` is alpha / 2."""
    up = [k for k, w in enumerate(weights) if w > 0]
    down = [k for k, w in enumerate(weights) if w < 0]
    part = np.abs(weights)[:, None] * found.mean
    df = found.df
    g = {k: 1 - 1 / _f(1 - tail, df[k], np.inf) for k in up}
    h = {k: 1 / _f(tail, df[k], np.inf) - 1 for k in down}
    total = np.zeros(found.mean.shape[1])
    for k in up:
        total += (g[k] * part[k]) ** 2
    for k in down:
        total += (h[k] * part[k]) ** 2
    for k, j in product(up, down):
        f = _f(1 - tail, df[k], df[j])
        total += ((f - 1) ** 2 - (g[k] * f) ** 2 - h[j] ** 2) / f * part[k] * part[j]
    for k, j in combinations(up, 2) if down else ():
        both = df[k] + df[j]
        joint = (1 - 1 / _f(1 - tail, both, np.inf)) ** 2 * both**2 / (df[k] * df[j])
        star = joint - g[k] ** 2 * df[k] / df[j] - g[j] ** 2 * df[j] / df[k]
        total += star / (len(up) - 1) * part[k] * part[j]
    return np.asarray(np.sqrt(np.maximum(total, 0.0)))


def mls_bounds(weights: Floats, found: MeanSquares, *, level: float = LEVEL) -> Bounds:
    """Modified large-sample interval of sum w_k MS_k, `weights` (K,).

    The upper end is the lower end of minus the sum, turned round.
    """
    tail = (1 - level) / 2
    estimate = weights @ found.mean
    low, high = estimate - _below(weights, found, tail), estimate + _below(-weights, found, tail)
    return Bounds(np.maximum(low, 0.0), np.maximum(high, 0.0))


def share_bounds(
    part: Floats, whole: Floats, found: MeanSquares, *, hidden: float = 0.0, level: float = LEVEL
) -> Bounds:
    """Interval of one variance over another, both as weights (K,) on the mean squares, `part` within `whole`.

    `hidden` is variance known to be in both beyond what the mean squares show, in (% TDS)^2.

    Every mean square is divided by what a chi-square of its degrees of freedom might have been; the shares that
    result are ranked. The chi-squares are spread evenly (a Sobol sequence) and not drawn, so that nothing is random.
    Negative variances count as zero, as in the estimates.
    """
    chances = stats.qmc.Sobol(len(found.terms), scramble=False).random(POINTS) + 0.5 / POINTS
    factors = found.df / stats.chi2.ppf(chances, found.df)
    tail = (1 - level) / 2
    ends = [_ranked(factors, part * mean, (whole - part) * mean, hidden, tail) for mean in found.mean.T]
    return Bounds(np.array([end[0] for end in ends]), np.array([end[1] for end in ends]))


def _ranked(factors: Floats, part: Floats, rest: Floats, hidden: float, tail: float) -> Floats:
    """The two quantiles of one study's shares; `part` and `rest` (K,) are weighted mean squares."""
    inner = np.maximum(factors @ part, 0.0) + hidden
    outer = inner + np.maximum(factors @ rest, 0.0)
    shares = np.divide(inner, outer, out=np.zeros_like(inner), where=outer > 0)
    return np.asarray(np.quantile(shares, (tail, 1 - tail)))
