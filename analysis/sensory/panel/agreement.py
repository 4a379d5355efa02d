"""How an assessor's scores follow those of the others, cup by cup."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import stats

from analysis.mixed.arrays import CONFIDENCE, Floats, Ints
from analysis.mixed.cluster_robust import ClusterRobust, cluster_robust
from analysis.mixed.fit import FTest
from analysis.sensory.panel.linear import cell_means, f_of, indicators
from analysis.sensory.panel.tidy import Scores

FEWEST_CUPS = 4
FEWEST_OTHERS = 2
LEAST_DF = 2.0


@dataclass(frozen=True, slots=True)
class Agreement:
    """Correlation with the mean of the others over `n_cups`, and slope on it, both with 95 % intervals.

    A slope of 1 would be the others' use of the scale if their mean had no error; error in it lowers every slope.
    """

    n_cups: int
    correlation: float
    correlation_low: float
    correlation_high: float
    slope: float
    slope_low: float
    slope_high: float


@dataclass(frozen=True)
class Levelled:
    """Means (m,) of one attribute by assessor and cup, and the same less each assessor's own level.

    `level` by assessor code: what it scores above the panel at the same cups; `unit` is the panel's standard deviation
    of levelled means.
    """

    attribute: str
    assessor: Ints
    point: Ints
    levelled: Floats
    level: dict[int, float]
    unit: float


def levelled(scores: Scores) -> Levelled:
    """Two-way least squares, cups and assessors, so that an assessor who missed cups is held against the same cups."""
    means, (assessor, point) = cell_means(scores.y, scores.assessor, scores.point)
    who, which = indicators(assessor), indicators(point)
    found = np.linalg.lstsq(np.column_stack([which, who]), means, rcond=None)[0][which.shape[1] :]
    found -= found.mean()
    codes = np.unique(assessor)
    less = means - who @ found
    return Levelled(
        attribute=scores.attribute,
        assessor=assessor,
        point=point,
        levelled=less,
        level={int(code): float(value) for code, value in zip(codes, found, strict=True)},
        unit=float(np.std(less)),
    )


def cups_differ(panel: Levelled, *, without: int) -> FTest | None:
    """Whether the others, one assessor left out, find the cups different beyond what they disagree about."""
    kept = panel.assessor != without
    who, cups = panel.assessor[kept], panel.point[kept]
    if np.unique(who).size < FEWEST_OTHERS:
        return None
    return f_of(panel.levelled[kept], cups, beside=indicators(who))


def against_others(panel: Levelled, code: int) -> tuple[Floats, Floats, Ints]:
    """Own levelled means, the mean of the others' at the same cups, and the cups; those with two others or more."""
    own = panel.assessor == code
    size = int(panel.point.max()) + 1
    number = np.bincount(panel.point[~own], minlength=size)
    total = np.bincount(panel.point[~own], panel.levelled[~own], minlength=size)
    cups = panel.point[own]
    kept = number[cups] >= FEWEST_OTHERS
    return panel.levelled[own][kept], (total[cups] / np.maximum(number[cups], 1))[kept], cups[kept]


def agreement(panel: Levelled, code: int) -> Agreement | None:
    """One attribute: Pearson's correlation (interval by Fisher's z) and the least squares slope (interval by t)."""
    own, others, _ = against_others(panel, code)
    n = own.size
    if n < FEWEST_CUPS or np.ptp(own) == 0 or np.ptp(others) == 0:
        return None
    x, y = others - others.mean(), own - own.mean()
    slope = float(x @ y / (x @ x))
    r = float(np.clip(x @ y / np.sqrt((x @ x) * (y @ y)), -1, 1))
    error = float(np.sqrt(max(float(y @ y) - slope * float(x @ y), 0.0) / (n - 2) / (x @ x)))
    reach = float(stats.t.ppf(0.5 + CONFIDENCE / 2, n - 2)) * error
    z = np.arctanh(min(abs(r), 1 - 1e-12)) * np.sign(r)
    wide = float(stats.norm.ppf(0.5 + CONFIDENCE / 2)) / np.sqrt(n - 3)
    return Agreement(n, r, float(np.tanh(z - wide)), float(np.tanh(z + wide)), slope, slope - reach, slope + reach)


@dataclass(frozen=True, slots=True)
class PooledSlope:
    """Slope on the others over several attributes, each in its own unit; standard error and df by CR2, cups apart."""

    slope: float
    std_error: float
    df: float
    n_cups: int
    n_attributes: int

    def upper(self, chance: float) -> float:
        """One-sided upper bound that is too low in a share `chance` of panels."""
        return self.slope + float(stats.t.isf(chance, self.df)) * self.std_error

    @property
    def low(self) -> float:
        """Lower end of the 95 % interval."""
        return 2 * self.slope - self.high

    @property
    def high(self) -> float:
        """Upper end of the 95 % interval."""
        return self.upper(0.5 - CONFIDENCE / 2)


def pooled_slope(panels: list[Levelled], code: int) -> PooledSlope | None:
    """One slope over all the attributes given, a cup's scores alike in any way; None with too few cups."""
    parts = [
        (k, panel.unit, *against_others(panel, code))
        for k, panel in enumerate(panels)
        if panel.unit > 0 and np.any(panel.assessor == code)
    ]
    parts = [part for part in parts if part[2].size >= FEWEST_CUPS and np.ptp(part[3]) > 0]
    if not parts:
        return None
    y = np.concatenate([own / unit for _, unit, own, _, _ in parts])
    x = np.concatenate([others / unit for _, unit, _, others, _ in parts])
    attribute = np.concatenate([np.full(own.size, k) for k, _, own, _, _ in parts])
    cups = np.concatenate([cup for *_, cup in parts])
    fit = cluster_robust(y, np.column_stack([x, indicators(attribute)]), cups)
    if not isinstance(fit, ClusterRobust) or fit.df[0] < LEAST_DF or fit.std_error[0] <= 0:
        return None
    return PooledSlope(
        float(fit.estimate[0]), float(fit.std_error[0]), float(fit.df[0]), int(np.unique(cups).size), len(parts)
    )
