"""How the brews that nobody looked at differ from those looked at."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import polars as pl
from scipy import stats

from analysis.channeling.seen import sound_brews
from analysis.mixed.arrays import Floats

MEASURES = ("extraction_yield_pct", "grind_steps_finer", "dose_g")
KINDS = ("operator", "session_id")
FEWEST = 2
CLEAR = 0.25
"""Standard deviations; a smaller difference is called close (Rubin 2001, Health Services Outcomes 2:169)."""


@dataclass(frozen=True, slots=True)
class MeasureGap:
    """A column's mean among brews not looked at and looked at, in its unit; `standardised` in standard deviations."""

    name: str
    not_looked_at: float
    looked_at: float
    standardised: float
    n_not_looked_at: int
    n_looked_at: int

    @property
    def beyond_chance(self) -> bool:
        """More than two samples of one kind of brew differ by in 95 of 100 cases, and not small."""
        return abs(self.standardised) > max(CLEAR, _chance(1, self.n_not_looked_at, self.n_looked_at))


@dataclass(frozen=True, slots=True)
class KindGap:
    """How operators or sessions differ: `standardised` as for measures; the level whose share differs most.

    `unlooked` of the `of_level` brews of `level` were not looked at.
    """

    name: str
    standardised: float
    level: str
    unlooked: int
    of_level: int
    n_levels: int
    n_not_looked_at: int
    n_looked_at: int

    @property
    def beyond_chance(self) -> bool:
        """More than two samples of one kind of brew differ by in 95 of 100 cases, and not small."""
        return self.standardised > max(CLEAR, _chance(self.n_levels - 1, self.n_not_looked_at, self.n_looked_at))


def _chance(n_shares: int, first: int, second: int) -> float:
    """The distance that chance alone passes in 5 of 100 cases: its square times n1 n2 / (n1 + n2) is chi-square."""
    return math.sqrt(float(stats.chi2.ppf(0.95, n_shares)) * (1 / first + 1 / second))


def standardised_difference(unlooked: Floats, looked: Floats) -> float | None:
    """Mean of the first less mean of the second, over the root mean variance (Austin 2009, Stat Med 28:3083, eq. 1).

    None with fewer than 2 values on a side, or without any spread.
    """
    if min(unlooked.size, looked.size) < FEWEST:
        return None
    spread = math.sqrt((unlooked.var(ddof=1) + looked.var(ddof=1)) / 2)
    return float((unlooked.mean() - looked.mean()) / spread) if spread > 0 else None


def standardised_share_difference(unlooked: Floats, looked: Floats) -> float | None:
    """One distance for shares of all levels, >= 0, from counts (k,) on each side; None without spread.

    Mahalanobis distance of the two multinomial shares without the last level (Yang and Dalton 2012, SAS Global Forum
    335-2012, eq. 3); with two levels the size of the ordinary standardised difference of a share.
    """
    first, second = unlooked / unlooked.sum(), looked / looked.sum()
    gap = (first - second)[:-1]
    spread = sum(np.diag(share[:-1]) - np.outer(share[:-1], share[:-1]) for share in (first, second)) / 2
    if gap.size == 0 or not np.any(spread):
        return None
    return math.sqrt(max(float(gap @ np.linalg.pinv(spread) @ gap), 0.0))


def measure_gaps(facts: pl.DataFrame, *, method: str) -> tuple[MeasureGap, ...]:
    """Yield, grind and dose of the brews not looked at against those looked at; a column without values is skipped."""
    sound = sound_brews(facts, method=method)
    gaps = []
    for name in MEASURES:
        known = sound.filter(pl.col(name).is_not_null())
        unlooked, looked = (
            known.filter(pl.col("channeled").is_null() == flag)[name].cast(pl.Float64).to_numpy()
            for flag in (True, False)
        )
        gap = standardised_difference(unlooked, looked)
        if gap is not None:
            means = float(unlooked.mean()), float(looked.mean())
            gaps.append(MeasureGap(name, *means, gap, unlooked.size, looked.size))
    return tuple(gaps)


def kind_gaps(facts: pl.DataFrame, *, method: str) -> tuple[KindGap, ...]:
    """Operators and sessions of the brews not looked at against those looked at, where there are two or more."""
    sound = sound_brews(facts, method=method)
    gaps = []
    for name in KINDS:
        known = sound.filter(pl.col(name).is_not_null())
        counts = (
            known.group_by(name)
            .agg(unlooked=pl.col("channeled").is_null().sum(), looked=pl.col("channeled").is_not_null().sum())
            .sort(name)
        )
        unlooked, looked = (counts[side].cast(pl.Float64).to_numpy() for side in ("unlooked", "looked"))
        if counts.height < FEWEST or not unlooked.sum() or not looked.sum():
            continue
        gap = standardised_share_difference(unlooked, looked)
        if gap is not None:
            most = int(np.argmax(unlooked / unlooked.sum() - looked / looked.sum()))
            level, here = str(counts[name][most]), int(unlooked[most])
            sides = int(unlooked.sum()), int(looked.sum())
            gaps.append(KindGap(name, gap, level, here, here + int(looked[most]), counts.height, *sides))
    return tuple(gaps)
