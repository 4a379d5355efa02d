"""Whether the gap between two instruments grows with strength: slope of difference on mean, Deming line, or why not."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy import stats

from analysis.measurement.deming import FEWEST_BREWS, LEVEL, ErrorRatio, Line, fit_line
from analysis.words import count, number

Floats = npt.NDArray[np.float64]
NARROW = 2.0
"""Brews must spread at least this many times the scatter of one instrument to speak of a slope."""
WIDEST = 0.5
"""A slope known no better than this on either side says nothing."""
FEWEST_FOR_GROWTH = 8
SIGNIFICANT = 0.05


@dataclass(frozen=True, slots=True)
class Estimate:
    """A value with its two-sided 95 % interval, in one unit."""

    value: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class Trend:
    """Slope of difference on mean strength, with its interval; `artefact` is the slope that unequal errors alone make.

    The instrument that scatters more is far from the mean on its own side, so that `(v_b - v_a) / (2 var(mean))` is
    expected where the gap does not grow at all; the Deming line is free of it.
    """

    slope: Estimate
    artefact: float


@dataclass(frozen=True, slots=True)
class Slopes:
    """`trend` and `line`, or both None and `reason` says why there is no speaking of a slope."""

    trend: Trend | None
    line: Line | None
    reason: str


def slopes_of(x_pct: Floats, y_pct: Floats, errors: ErrorRatio, *, floor: float) -> Slopes:
    """Slopes from means per brew; `floor` is the least variance that a difference can have, in %^2."""
    n = x_pct.size
    if n < FEWEST_BREWS:
        return Slopes(None, None, f"{count(n, 'brew')}; a slope takes {FEWEST_BREWS}")
    means, differences = (x_pct + y_pct) / 2, y_pct - x_pct
    spread = float(means.std(ddof=1))
    if spread == 0:
        return Slopes(None, None, "all brews are equally strong")
    on_mean = stats.linregress(means, differences)
    residual = differences - on_mean.intercept - on_mean.slope * means
    scatter = math.sqrt(max(float(residual @ residual) / (n - 2), floor) / 2)
    if spread < NARROW * scatter:
        return Slopes(
            None,
            None,
            f"the range is too narrow: brews spread {number(spread, 3)} %, readings {number(scatter, 3)} % (sd); "
            "read weaker and stronger brews on both",
        )
    line = fit_line(x_pct, y_pct, errors)
    half = (line.slope_high - line.slope_low) / 2
    if not half <= WIDEST:
        return Slopes(
            None,
            None,
            f"{count(n, 'brew')} over this range leave the slope open by {number(half, 1)} either way; "
            "read more brews, weaker and stronger ones, on both",
        )
    reach = float(stats.t.ppf(0.5 + LEVEL / 2, n - 2)) * float(on_mean.stderr)
    slope = float(on_mean.slope)
    artefact = (errors.y - errors.x) / (2 * spread**2) if errors.known else 0.0
    return Slopes(Trend(Estimate(slope, slope - reach, slope + reach), artefact), line, "")


def scatter_grows(means: Floats, differences: Floats) -> bool:
    """Whether differences scatter more where brews are stronger: slope of their absolute residuals, p under 0.05."""
    if means.size < FEWEST_FOR_GROWTH or means.std() == 0 or differences.std() == 0:
        return False
    on_mean = stats.linregress(means, differences)
    sizes = np.abs(differences - on_mean.intercept - on_mean.slope * means)
    growth = stats.linregress(means, sizes)
    return bool(growth.slope > 0 and growth.pvalue < SIGNIFICANT)
