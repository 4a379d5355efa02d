"""Checks against references brought to one mean per reference value, and a line or an offset through the means.

All in observed units. Checks against one reference value share that reference's error, so its repeats count as one
mean; between means the fit takes both errors (`reference_line`).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from analysis.measurement.calibration import Check
from analysis.measurement.reference_line import reference_line

Floats = npt.NDArray[np.float64]
FEWEST_REPEATS = 5
"""Degrees of freedom from which repeats of one reference say alone how far checks scatter."""
ROUNDS = 50
SETTLED = 1e-12


@dataclass(frozen=True, slots=True)
class ReferenceMeans:
    """Checks by reference value: its value and variance, mean observed, number, squared deviations from that mean.

    `variance` is each reference's own; `shared` is the standard uncertainty that they have in common.
    """

    value: Floats
    variance: Floats
    shared: Floats
    observed: Floats
    n: Floats
    squares: Floats


@dataclass(frozen=True, slots=True)
class MeansLine:
    """A fit in observed units: the line, its variances, and how much of each comes from the scatter of checks.

    `shared_in_height` and `shared_in_slope` are what the references' common error gives them besides.
    """

    offset: float
    slope: float
    centre: float
    var_height: float
    var_slope: float
    scatter_in_height: float
    scatter_in_slope: float
    chi2: float
    df: int
    shared_in_height: float = 0.0
    shared_in_slope: float = 0.0


def reference_means(used: Sequence[Check], reference_u: float | None) -> ReferenceMeans:
    """Group checks by reference value; `reference_u` stands in where a check states no uncertainty of its reference."""
    values = sorted({check.reference for check in used})
    groups = [[check for check in used if check.reference == value] for value in values]
    observed = [np.array([check.observed for check in group]) for group in groups]
    stated = [[reference_u if check.reference_u is None else check.reference_u for check in group] for group in groups]
    shared = np.array([max(check.reference_shared_u or 0.0 for check in group) for group in groups])
    return ReferenceMeans(
        value=np.array(values),
        variance=np.maximum(np.array([max((u or 0.0) ** 2 for u in group) for group in stated]) - shared**2, 0.0),
        shared=shared,
        observed=np.array([part.mean() for part in observed]),
        n=np.array([float(part.size) for part in observed]),
        squares=np.array([float(((part - part.mean()) ** 2).sum()) for part in observed]),
    )


def check_scatter(means: ReferenceMeans, line: MeansLine, parameters: int) -> tuple[float, int]:
    """Variance of single checks against one reference, and its degrees of freedom.

    From repeats of each reference where these suffice, else from all about the line, less the references' own errors.
    """
    n, groups = int(means.n.sum()), means.n.size
    if n - groups >= FEWEST_REPEATS:
        return float(means.squares.sum()) / (n - groups), n - groups
    off = means.observed - line.offset - line.slope * means.value
    df = n - parameters
    about = float(means.squares.sum() + means.n @ off**2) / df
    of_references = line.slope**2 * float(np.average(means.variance, weights=means.n))
    return max(about - of_references * n / groups * (groups - parameters) / df, 0.0), df


def settled_line(means: ReferenceMeans, step: float, *, slope: bool) -> MeansLine:
    """The fit whose weights rest on the scatter that it leaves."""
    parameters = 2 if slope else 1
    start = means.observed.mean() - means.value.mean()
    line = MeansLine(float(start), 1.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0)
    variance = -1.0
    for _ in range(ROUNDS):
        before = variance
        variance, df = check_scatter(means, line, parameters)
        if abs(variance - before) <= SETTLED * max(variance, SETTLED):
            break
        line = _fitted(means, variance, df, step, slope=slope)
    return line


def _fitted(means: ReferenceMeans, variance: float, df: int, step: float, *, slope: bool) -> MeansLine:
    own = variance / means.n
    shown = own + max(step, SETTLED * (float(np.abs(means.value).max()) or 1.0) ** 2)
    if slope:
        found = reference_line(means.value, means.observed, means.variance, shown)
        in_slope = float((found.weights * found.spread) ** 2 @ own) * found.var_slope**2
        common = found.slope * means.shared
        return MeansLine(
            offset=found.intercept,
            slope=found.slope,
            centre=found.centre,
            var_height=found.var_height,
            var_slope=found.var_slope,
            scatter_in_height=float(found.weights**2 @ own) * found.var_height**2,
            scatter_in_slope=in_slope,
            chi2=found.chi2,
            df=df,
            shared_in_height=float(found.weights @ common) * found.var_height,
            shared_in_slope=float((found.weights * found.spread) @ common) * found.var_slope,
        )
    weights = 1 / (shown + means.variance)
    errors = means.observed - means.value
    offset, var_height = float(np.average(errors, weights=weights)), 1 / float(weights.sum())
    return MeansLine(
        offset=offset,
        slope=1.0,
        centre=float(np.average(means.value, weights=weights)),
        var_height=var_height,
        var_slope=0.0,
        scatter_in_height=float(weights**2 @ own) * var_height**2,
        scatter_in_slope=0.0,
        chi2=float(weights @ (errors - offset) ** 2),
        df=df,
        shared_in_height=float(weights @ means.shared) * var_height,
    )
