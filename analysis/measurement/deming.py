"""A straight line between two instruments that both err: Deming regression with a known ratio of error variances.

Slope and intercept minimise `sum (y - a - b x)^2 / (v_y + b^2 v_x)` (Deming 1943; Linnet 1990), with v_x and v_y the
error variances of the two means in a pair. Intervals are by the jackknife, leaving out one brew at a time, with
t(n - 2). Arrays have brews on their last axis, so that simulations run on the code that serves the lab.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import cast

import numpy as np
import numpy.typing as npt
from scipy.special import stdtrit

Floats = npt.NDArray[np.float64]
LEVEL = 0.95
FEWEST_BREWS = 5
"""With fewer, leaving one out leaves too little to judge a slope by."""


@dataclass(frozen=True, slots=True)
class ErrorRatio:
    """Error variances of a brew's mean on the two instruments, %^2, and the 95 % interval of `y / x`.

    Only their ratio moves the line. `known` is False where equal errors had to be assumed; their size then means
    nothing. `basis` says in words where the ratio comes from.
    """

    x: float
    y: float
    low: float
    high: float
    known: bool
    basis: str

    @property
    def ratio(self) -> float:
        """Error variance on y for one unit of it on x; infinite where x is exact."""
        return self.y / self.x if self.x > 0 else math.inf


@dataclass(frozen=True, slots=True)
class Line:
    """`y = intercept + slope x` between two instruments, intercept in %, with 95 % intervals.

    `slope_at_low` and `slope_at_high` are the slopes at the two ends of the error ratio's interval: what not knowing
    the ratio is worth. `covariance` is the jackknife's (var intercept, covariance, var slope). `residual_variance` is
    about the line, in %^2 of y, n - 2 degrees of freedom. `x_low` and `x_high` are the strengths it was seen at.
    """

    slope: float
    slope_low: float
    slope_high: float
    intercept: float
    intercept_low: float
    intercept_high: float
    slope_at_low: float
    slope_at_high: float
    covariance: tuple[float, float, float]
    residual_variance: float
    n: int
    x_low: float
    x_high: float


@dataclass(frozen=True, slots=True)
class Prediction:
    """What y would read for one reading on x, in %, with the interval that holds 95 % of such readings."""

    value: float
    low: float
    high: float
    outside_range: bool


@dataclass(frozen=True, slots=True)
class Fit:
    """Slopes, intercepts and their jackknife covariances, one for each leading index of the data."""

    slope: Floats
    intercept: Floats
    var_slope: Floats
    var_intercept: Floats
    covariance: Floats


def slope_of(sxx: Floats, syy: Floats, sxy: Floats, var_x: Floats | float, var_y: Floats | float) -> Floats:
    """Slopes from sums of squares and products; an exact x (`var_x` 0) or y (`var_y` 0) is a limit of the same form.

    Of two equal forms of the root the one is used that subtracts no near-equal numbers.
    """
    gap = var_x * syy - var_y * sxx
    root = np.sqrt(gap * gap + 4 * var_x * var_y * sxy * sxy)
    with np.errstate(divide="ignore", invalid="ignore"):
        return cast(Floats, np.where(gap > 0, (gap + root) / (2 * var_x * sxy), 2 * var_y * sxy / (root - gap)))


def fit(x: Floats, y: Floats, var_x: Floats | float, var_y: Floats | float) -> Fit:
    """Lines through `x` and `y`, shape (..., n), with error variances of shape (...); all leave-one-out fits at once.

    Leaving out brew i lowers the sums of squares by `n/(n-1)` times its own squared deviation from the mean.
    """
    n = x.shape[-1]
    var_x, var_y = np.asarray(var_x, np.float64), np.asarray(var_y, np.float64)
    mean_x, mean_y = x.mean(axis=-1), y.mean(axis=-1)
    dx, dy = x - mean_x[..., None], y - mean_y[..., None]
    sxx, syy, sxy = (dx * dx).sum(axis=-1), (dy * dy).sum(axis=-1), (dx * dy).sum(axis=-1)
    slope = slope_of(sxx, syy, sxy, var_x, var_y)
    out = n / (n - 1)
    slopes = slope_of(
        sxx[..., None] - out * dx * dx,
        syy[..., None] - out * dy * dy,
        sxy[..., None] - out * dx * dy,
        var_x[..., None],
        var_y[..., None],
    )
    intercept = mean_y - slope * mean_x
    intercepts = mean_y[..., None] - dy / (n - 1) - slopes * (mean_x[..., None] - dx / (n - 1))
    off_slope = slopes - slopes.mean(axis=-1, keepdims=True)
    off_intercept = intercepts - intercepts.mean(axis=-1, keepdims=True)
    scale = (n - 1) / n
    return Fit(
        slope,
        intercept,
        scale * (off_slope**2).sum(axis=-1),
        scale * (off_intercept**2).sum(axis=-1),
        scale * (off_slope * off_intercept).sum(axis=-1),
    )


def quantile(n: int) -> float:
    """t(n - 2) for two-sided 95 % intervals of a line through n brews."""
    return float(stdtrit(n - 2, 0.5 + LEVEL / 2))


def fit_line(x: Floats, y: Floats, errors: ErrorRatio) -> Line:
    """The line of `y` on `x`, both in % and of shape (n,) with n at least 3."""
    n = x.size
    found = fit(x, y, errors.x, errors.y)
    slope, intercept = float(found.slope), float(found.intercept)
    reach = quantile(n)
    half_slope, half_intercept = reach * math.sqrt(found.var_slope), reach * math.sqrt(found.var_intercept)
    residual = y - intercept - slope * x
    return Line(
        slope=slope,
        slope_low=slope - half_slope,
        slope_high=slope + half_slope,
        intercept=intercept,
        intercept_low=intercept - half_intercept,
        intercept_high=intercept + half_intercept,
        slope_at_low=_slope_at(x, y, errors.low),
        slope_at_high=_slope_at(x, y, errors.high),
        covariance=(float(found.var_intercept), float(found.covariance), float(found.var_slope)),
        residual_variance=float(residual @ residual) / (n - 2),
        n=n,
        x_low=float(x.min()),
        x_high=float(x.max()),
    )


def _slope_at(x: Floats, y: Floats, ratio: float) -> float:
    var_x, var_y = (0.0, 1.0) if math.isinf(ratio) else (1.0, ratio)
    return float(fit(x, y, var_x, var_y).slope)


def predict(line: Line, value: float, *, added: Sequence[tuple[float, int]] = ()) -> Prediction:
    """What y would read where x read `value`.

    The interval holds the line's own uncertainty and the scatter about it; `added` are variances, in %^2 of y, with
    their degrees of freedom, by which single readings scatter beyond the means that the line was fitted to. Together
    they have Satterthwaite's degrees of freedom.
    """
    var_intercept, covariance, var_slope = line.covariance
    of_line = max(var_intercept + 2 * value * covariance + value * value * var_slope, 0.0)
    terms = [(of_line + line.residual_variance, line.n - 2), *(term for term in added if term[1] > 0)]
    variance = math.fsum(part for part, _ in terms)
    squares = math.fsum(part * part / df for part, df in terms)
    df = variance * variance / squares if squares > 0 else float(line.n - 2)
    half = float(stdtrit(df, 0.5 + LEVEL / 2)) * math.sqrt(variance)
    at = line.intercept + line.slope * value
    return Prediction(at, at - half, at + half, not line.x_low <= value <= line.x_high)
