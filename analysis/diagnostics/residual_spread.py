"""Whether residuals scatter alike: along the settings, and from coffee to coffee or operator to operator."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import stats

from analysis.diagnostics.case import basis, less
from analysis.effects.fit import Floats, Ints

FEWEST_A_LEVEL = 3
"""A level with fewer residuals than this shows no scatter of its own."""


@dataclass(frozen=True, slots=True)
class Slanted:
    """Breusch and Pagan's statistic (Koenker's form) on `df`, its p-value, and which column it leans on and which way.

    `most` is the column along which the squares change most; `rises` whether they grow with it.
    """

    statistic: float
    df: int
    p_value: float
    most: int
    rises: bool


@dataclass(frozen=True, slots=True)
class Unlike:
    """Brown and Forsythe's F on `df_num` and `df_den`, its p-value, and the level codes that scatter most and least.

    `most_sd` and `least_sd` are standard deviations of what was put in; `n_levels` were compared.
    """

    statistic: float
    df_num: int
    df_den: int
    p_value: float
    most: int
    least: int
    most_sd: float
    least_sd: float
    n_levels: int


def slanted_spread(residual: Floats, z: Floats) -> Slanted | None:
    """Whether the squares of residuals (n,) change along the columns of `z` (n, k); None with nothing to compare.

    n R squared of the squares on `z` and a constant against chi-squared: Breusch & Pagan (1979), Econometrica 47:1287,
    in the form of Koenker (1981), Journal of Econometrics 17:107, which does not lean on a normal shape.
    """
    squares = residual**2 - np.mean(residual**2)
    columns = z - z.mean(axis=0)
    span = basis(columns[:, np.ptp(z, axis=0) > 0])
    total = float(squares @ squares)
    if span.shape[1] == 0 or total <= 0 or residual.size <= span.shape[1] + 1:
        return None
    left = less(squares, span)
    statistic = residual.size * max(0.0, 1 - float(left @ left) / total)
    size = np.sqrt(np.sum(columns**2, axis=0))
    along = np.divide(columns.T @ squares, size, out=np.zeros(size.size), where=size > 0)
    most = int(np.argmax(np.abs(along)))
    p_value = float(stats.chi2.sf(statistic, span.shape[1]))
    return Slanted(statistic, span.shape[1], p_value, most, bool(along[most] > 0))


def unlike_spread(residual: Floats, codes: Ints) -> Unlike | None:
    """Whether residuals (n,) scatter alike at each level of `codes`; None with fewer than two levels of three brews.

    One-way analysis of the distances from each level's median: Brown & Forsythe (1974), JASA 69:364.
    """
    sizes = np.bincount(codes)
    levels = np.flatnonzero(sizes >= FEWEST_A_LEVEL)
    if levels.size < 2:
        return None
    away = [np.abs(residual[codes == level] - np.median(residual[codes == level])) for level in levels]
    every = np.concatenate(away)
    within = float(sum(np.sum((part - part.mean()) ** 2) for part in away))
    between = float(sum(part.size * (part.mean() - every.mean()) ** 2 for part in away))
    df_num, df_den = int(levels.size) - 1, int(every.size - levels.size)
    if within <= 0:
        return None
    statistic = between / df_num / (within / df_den)
    spread = [float(np.std(residual[codes == level], ddof=1)) for level in levels]
    most, least = int(np.argmax(spread)), int(np.argmin(spread))
    return Unlike(
        statistic,
        df_num,
        df_den,
        float(stats.f.sf(statistic, df_num, df_den)),
        int(levels[most]),
        int(levels[least]),
        spread[most],
        spread[least],
        int(levels.size),
    )
