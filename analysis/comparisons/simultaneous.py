"""Several comparisons at once: Tukey's for all pairs, Dunnett's for each against one."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy import optimize, stats

from analysis.comparisons.studentized_range import critical, upper_tail
from analysis.mixed.arrays import CONFIDENCE, Floats

POINTS = 20_000
"""Points per dimension of the quasi-random integral: errors near 1e-4."""


@dataclass(frozen=True, slots=True)
class Adjusted:
    """A comparison allowing for all others: `p_value`, and the multiple of the standard error its interval reaches."""

    p_value: float
    reach: float


def tukey(t: Sequence[float], df: Sequence[float], *, n_means: int) -> list[Adjusted]:
    """All pairs of `n_means` means; t and its degrees of freedom per pair.

    p from the studentized range of sqrt(2) |t| (Tukey 1953; Kramer 1956 for unequal numbers: then conservative, Hayter
    1984). One pair is plain t.
    """
    if n_means == 2:
        return [_plain(value, own) for value, own in zip(t, df, strict=True)]
    return [
        Adjusted(upper_tail(np.sqrt(2) * abs(value), n_means, own), critical(n_means, own, CONFIDENCE) / np.sqrt(2))
        for value, own in zip(t, df, strict=True)
    ]


def dunnett(
    t: Sequence[float], df: Sequence[float], *, correlation: Floats, rng: np.random.Generator
) -> list[Adjusted]:
    """Each of m contrasts with `correlation` (m, m), allowing for all of them by the multivariate t (Dunnett 1955).

    Contrasts of unlike degrees of freedom are judged each at its own. The integral is quasi-random, begun anew from
    one draw of `rng` at each evaluation, so that it is smooth in the bound.
    """
    if len(t) == 1:
        return [_plain(t[0], df[0])]
    shape = correlation + 1e-10 * np.eye(len(t))
    cache: dict[float, float] = {}
    start = int(rng.integers(2**31))

    def within(bound: float, own: float) -> float:
        ends = np.full(len(t), bound)
        law = stats.multivariate_t(shape=shape, df=own, seed=start)
        return float(law.cdf(ends, lower_limit=-ends, maxpts=POINTS * len(t)))

    def reach(own: float) -> float:
        key = round(own, 3)
        if key not in cache:
            high = float(stats.t.isf((1 - CONFIDENCE) / (2 * len(t)), own))
            low = float(stats.t.isf((1 - CONFIDENCE) / 2, own))
            cache[key] = float(optimize.brentq(lambda c: within(c, own) - CONFIDENCE, low, high * 1.001, xtol=1e-3))
        return cache[key]

    return [Adjusted(max(0.0, 1 - within(abs(value), own)), reach(own)) for value, own in zip(t, df, strict=True)]


def _plain(t: float, df: float) -> Adjusted:
    return Adjusted(float(2 * stats.t.sf(abs(t), df)), float(stats.t.ppf(0.5 + CONFIDENCE / 2, df)))


def equivalence_p(estimate: float, std_error: float, df: float, *, margin: float) -> float:
    """Two one-sided t tests of "the difference is as large as `margin`, one way or the other" (Schuirmann 1987)."""
    below = stats.t.sf((estimate + margin) / std_error, df)
    above = stats.t.cdf((estimate - margin) / std_error, df)
    return float(max(below, above))
