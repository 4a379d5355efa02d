"""Exact binomial tests and intervals of right answers, and the counts that a level asks for.

Rules of ISO 4120 (triangle), ISO 10399 (duo-trio) and ISO 5495 (paired): exact binomial tails against guessing.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.stats import beta, binom

Counts = npt.NDArray[np.int64]
ROUNDING = 1e-12
"""A tail that equals the level in exact arithmetic may be off by this much here."""


@dataclass(frozen=True, slots=True)
class ShareInterval:
    """A share (0 to 1) with the two ends of its interval."""

    share: float
    low: float
    high: float


def p_at_least(right: int, n: int, chance: float) -> float:
    """Probability that guessing gives `right` or more of `n`.

    >>> round(p_at_least(15, 30, 1 / 3), 4)
    0.0435
    """
    return float(binom.sf(right - 1, n, chance))


def p_at_most(right: int, n: int, chance: float) -> float:
    """Probability of `right` or fewer of `n` where each is right with probability `chance`.

    >>> p_at_most(0, 3, 0.5)
    0.125
    """
    return float(binom.cdf(right, n, chance))


def p_two_sided(first: int, n: int) -> float:
    """Two-sided exact p of `first` of `n` against an even split.

    >>> p_two_sided(6, 6)
    0.03125
    """
    return min(1.0, 2.0 * p_at_least(max(first, n - first), n, 0.5))


def needed_right(n: Counts, *, chance: float, level: float) -> Counts:
    """Smallest counts of right answers with an upper tail of at most `level`, one for each n; n + 1: not even all.

    >>> needed_right(np.array([3, 30]), chance=1 / 3, level=0.05).tolist()
    [3, 15]
    """
    bound = level + ROUNDING
    needed = np.clip(binom.isf(level, n, chance).astype(np.int64) + 1, 0, n + 1)
    # The quantile may land one beside where a tail all but equals the level.
    needed = np.where((needed > 0) & (binom.sf(needed - 2, n, chance) <= bound), needed - 1, needed)
    return np.asarray(np.where(binom.sf(needed - 1, n, chance) > bound, needed + 1, needed), dtype=np.int64)


def minimum_right(n: int, *, chance: float, level: float, two_sided: bool = False) -> int | None:
    """Smallest count of right answers (or of the cup picked more, two-sided) that shows a difference; None if none.

    >>> minimum_right(6, chance=1 / 3, level=0.05), minimum_right(6, chance=1 / 3, level=0.001)
    (5, None)
    """
    needed = int(needed_right(np.array([n]), chance=chance, level=level / 2 if two_sided else level)[0])
    return needed if needed <= n else None


def allowed_right(n: Counts, *, chance: float, share: float, level: float) -> Counts:
    """Largest counts of right answers that still show the share of palates who can tell to be under `share`; -1: none.

    The similarity test of the ISO 4120 annex, by the exact lower tail.

    >>> allowed_right(np.array([5, 60]), chance=1 / 3, share=0.3, level=0.05).tolist()
    [0, 25]
    """
    right = chance + share * (1 - chance)
    allowed = binom.ppf(level, n, right).astype(np.int64)
    over = binom.cdf(allowed, n, right) > level + ROUNDING
    return np.asarray(np.where(over, allowed - 1, allowed), dtype=np.int64)


def exact_interval(right: float, n: float, *, confidence: float = 0.95) -> ShareInterval:
    """Clopper & Pearson (1934) interval of a share, both tails at most (1 - confidence) / 2.

    >>> round(exact_interval(0, 10).high, 4)
    0.3085
    """
    tail = (1 - confidence) / 2
    low = float(beta.ppf(tail, right, n - right + 1)) if right > 0 else 0.0
    high = float(beta.ppf(1 - tail, right + 1, n - right)) if right < n else 1.0
    return ShareInterval(right / n, low, high)


def tellers(right: float, chance: float) -> float:
    """Share of palates who tell a difference, from the share right: the others guess; never under 0.

    >>> round(tellers(0.5, 1 / 3), 12), tellers(0.2, 1 / 3)
    (0.25, 0.0)
    """
    return max(0.0, (right - chance) / (1 - chance))
