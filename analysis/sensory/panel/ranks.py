"""Whether assessors rank alike: Friedman's test, Kendall's W, Cochran's Q; exact where the panel is small."""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import permutations
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike
from scipy import stats

from analysis.mixed.arrays import Floats, Ints

How = Literal["exact", "permutations", "chi-squared"]
MOST_EXACT, MOST_SUMS = 5, 500_000
"""Products, and places of their sums, up to which the exact law is worked out."""
LEAST = 1e-12
"""The exact law is right to about this; nothing smaller is claimed."""
SMALL = 200
"""Scores up to which the chi-squared law is replaced by permutations where the exact law is too long."""
DRAWS = 9_999


@dataclass(frozen=True, slots=True)
class RankTest:
    """Tie-corrected `statistic` of the test `name` on `df`; `concordance` is Kendall's W, 0 no agreement to 1 full.

    `p_value` by `how`; `p_chi2` by chi-squared whatever the size. `n_blocks` assessors scored all `n_products`.
    """

    name: str
    statistic: float
    df: int
    p_value: float
    p_chi2: float
    how: How
    concordance: float
    n_blocks: int
    n_products: int


def friedman(table: ArrayLike, *, rng: np.random.Generator) -> RankTest | None:
    """`table` (n, k), a row per assessor, no cell empty; None with one row or column, or where every row is all ties.

    Friedman (1937), corrected for ties; W = statistic / (n (k - 1)) (Kendall and Babington Smith 1939). The exact law
    arranges each row's ranks in all ways.
    """
    rows = np.asarray(table, dtype=np.float64)
    if rows.ndim != 2 or min(rows.shape) < 2:
        return None
    return _test(np.asarray(stats.rankdata(rows, axis=1), dtype=np.float64), rng, "Friedman")


def cochran_q(table: ArrayLike, *, rng: np.random.Generator) -> RankTest | None:
    """`table` (n, k) of zeros and ones, a row per assessor. Cochran (1950): Friedman's statistic of two ranks.

    ValueError for any other number.
    """
    rows = np.asarray(table, dtype=np.float64)
    if not np.isin(rows, (0.0, 1.0)).all():
        raise ValueError("Cochran's Q takes zeros and ones")
    found = friedman(rows, rng=rng)
    return None if found is None else replace(found, name="Cochran's Q")


def _test(ranks: Floats, rng: np.random.Generator, name: str) -> RankTest | None:
    n, k = ranks.shape
    centred = ranks - (k + 1) / 2
    within = float(np.sum(centred**2))
    if within == 0:
        return None
    statistic = (k - 1) * float(np.sum(centred.sum(axis=0) ** 2)) / within
    p_chi2 = float(stats.chi2.sf(statistic, k - 1))
    p_value, how = _chance(np.rint(2 * centred).astype(np.int64), rng, p_chi2)
    return RankTest(name, statistic, k - 1, p_value, p_chi2, how, statistic / (n * (k - 1)), n, k)


def _chance(doubled: Ints, rng: np.random.Generator, p_chi2: float) -> tuple[float, How]:
    """The p of `doubled` centred ranks (n, k), whole numbers, every row arranged at random."""
    n, k = doubled.shape
    reach = int(np.abs(doubled).max(axis=1).sum())
    if k <= MOST_EXACT and (2 * reach + 1) ** (k - 1) <= MOST_SUMS:
        return _exact(doubled, reach), "exact"
    if n * k <= SMALL:
        return _drawn(doubled, rng), "permutations"
    return p_chi2, "chi-squared"


def _exact(doubled: Ints, reach: int) -> float:
    """Law of the first k - 1 column sums, rows convolved by Fourier transform; the last sum is minus their total."""
    k = doubled.shape[1]
    shape = (2 * reach + 1,) * (k - 1)
    kinds, number = np.unique(np.sort(doubled, axis=1), axis=0, return_counts=True)
    turned = np.ones(1, dtype=np.complex128)
    for kind, times in zip(kinds, number, strict=True):
        one = np.zeros(shape)
        ways = np.array(list(permutations(kind.tolist())))
        np.add.at(one, tuple(ways[:, :-1].T), 1 / len(ways))
        turned = turned * np.fft.rfftn(one) ** times
    law = np.fft.irfftn(turned, s=shape, axes=range(k - 1))
    # Sums below zero stand at the far end of each axis.
    sums = (np.indices(shape) + reach) % (2 * reach + 1) - reach
    between = np.sum(sums**2, axis=0) + np.sum(sums, axis=0) ** 2
    seen = int(np.sum(doubled.sum(axis=0) ** 2))
    return float(np.clip(law[between >= seen].sum(), LEAST, 1.0))


def _drawn(doubled: Ints, rng: np.random.Generator) -> float:
    """Share of random arrangements at least as uneven, the one seen counted with them (Phipson and Smyth 2010)."""
    seen = int(np.sum(doubled.sum(axis=0) ** 2))
    many = rng.permuted(np.broadcast_to(doubled, (DRAWS, *doubled.shape)), axis=2)
    as_far = int(np.sum(np.sum(many.sum(axis=1) ** 2, axis=1) >= seen))
    return (as_far + 1) / (DRAWS + 1)
