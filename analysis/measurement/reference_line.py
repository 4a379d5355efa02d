"""What an instrument reads against references that are themselves not exact: a weighted line, errors in both.

It minimises `sum (y - a - b x)^2 / (v_y + b^2 v_x)` with variances of each point's own, and has the standard errors of
York, Evensen, Martinez and De Basabe Delgado (2004), Am. J. Phys. 72, 367. With equal variances it is Deming's line,
where it starts from.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from analysis.measurement.deming import slope_of

Floats = npt.NDArray[np.float64]
ROUNDS = 200
SETTLED = 1e-14


@dataclass(frozen=True, slots=True)
class ReferenceLine:
    """`y = intercept + slope x`; at x = `centre` the errors of height and slope are independent.

    `var_height` is the variance of the line at `centre`, `var_slope` that of the slope. `weights` and `spread` are each
    point's weight and its distance from `centre` along x. `chi2` is the weighted sum of squares, n - 2 degrees of
    freedom where the variances are true.
    """

    intercept: float
    slope: float
    centre: float
    var_height: float
    var_slope: float
    weights: Floats
    spread: Floats
    chi2: float

    @property
    def covariance(self) -> tuple[float, float, float]:
        """Variance of the intercept, covariance, variance of the slope."""
        return (
            self.var_height + self.centre**2 * self.var_slope,
            -self.centre * self.var_slope,
            self.var_slope,
        )


def reference_line(x: Floats, y: Floats, var_x: Floats, var_y: Floats) -> ReferenceLine:
    """The line through at least two different `x`; all of shape (n,), no point exact in both."""
    slope = _deming(x, y, float(var_x.mean()), float(var_y.mean()))
    for _ in range(ROUNDS):
        weights = 1 / (var_y + slope**2 * var_x)
        u, v = x - np.average(x, weights=weights), y - np.average(y, weights=weights)
        along = weights * (u * var_y + slope * v * var_x)
        before, slope = slope, float((weights * along) @ v) / float((weights * along) @ u)
        if abs(slope - before) <= SETTLED * abs(slope):
            break
    weights = 1 / (var_y + slope**2 * var_x)
    mean_x, mean_y = float(np.average(x, weights=weights)), float(np.average(y, weights=weights))
    on_line = mean_x + weights * ((x - mean_x) * var_y + slope * (y - mean_y) * var_x)
    centre = float(np.average(on_line, weights=weights))
    spread = on_line - centre
    intercept = mean_y - slope * mean_x
    off = y - intercept - slope * x
    return ReferenceLine(
        intercept=intercept,
        slope=slope,
        centre=centre,
        var_height=1 / math.fsum(weights),
        var_slope=1 / float(weights @ spread**2),
        weights=weights,
        spread=spread,
        chi2=float(weights @ off**2),
    )


def _deming(x: Floats, y: Floats, var_x: float, var_y: float) -> float:
    """The slope that the same variances for every point would give."""
    dx, dy = x - x.mean(), y - y.mean()
    sxx, syy, sxy = (np.asarray(part, np.float64) for part in (dx @ dx, dy @ dy, dx @ dy))
    return float(slope_of(sxx, syy, sxy, var_x, var_y))
