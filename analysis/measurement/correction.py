"""A correction found from reference checks, with its own standard uncertainty at every reading.

`observed = offset + slope * true`, or the offset alone, through the means of `reference_means`.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Literal

import numpy as np
from scipy.special import chdtrc, ndtri, stdtrit

from analysis.measurement.calibration import Check
from analysis.measurement.reference_means import MeansLine, ReferenceMeans, check_scatter, reference_means, settled_line
from analysis.words import number
from schemas.lab import Correction

Kind = Literal["offset", "offset and slope"]
LEVEL = 0.95
FEWEST_CHECKS = 3
FEWEST_FOR_LINE = 4
WIDEST_SLOPE = 0.25
"""A slope known no better than this either way is not fitted. Chosen by us, no source."""
STEEPEST = 2.0
"""A slope beyond this, or below one over it, is a wrong reference value. Chosen by us, no source."""
MISFIT_P = 0.05
NOTHING = 1e-9


@dataclass(frozen=True, slots=True)
class FittedCorrection:
    """`true = (reading - offset) / slope`, all in the instrument's unit, with what it leaves open.

    `height_u` is the standard uncertainty of the line at the strength `centre`, where it is independent of `slope_u`.
    `wander` is by how much the instrument differs from check to check beyond the scatter of readings and the display:
    a day's reading has it in full. `df` belongs to both together at `centre`, `slope_df` to `slope_u`. `low` and
    `high` are the references seen. `misfit` says that the references lie off the line by more than their errors
    allow, and that the uncertainties were widened by it.
    """

    kind: Kind
    offset: float
    slope: float
    centre: float
    height_u: float
    slope_u: float
    wander: float
    df: float
    slope_df: float
    n_checks: int
    n_references: int
    low: float
    high: float
    first: datetime
    last: datetime
    scatter: float
    references_exact: bool
    misfit: bool
    no_slope: str

    def corrected(self, reading: float) -> float:
        """The strength that a reading says."""
        return (reading - self.offset) / self.slope

    @property
    def covariance(self) -> tuple[float, float, float]:
        """Variance of the offset, its covariance with the slope, variance of the slope."""
        var_slope = self.slope_u**2
        height = (self.slope * self.height_u) ** 2
        return height + self.centre**2 * var_slope, -self.centre * var_slope, var_slope

    def line_u(self, reading: float) -> float:
        """Standard uncertainty of a corrected reading from offset and slope alone, their covariance included."""
        return math.hypot(self.height_u, (self.corrected(reading) - self.centre) * self.slope_u / self.slope)

    def u(self, reading: float) -> float:
        """Standard uncertainty of a corrected reading: the line's, and what the instrument wanders from day to day."""
        return math.hypot(self.line_u(reading), self.wander)

    def outside(self, low: float, high: float) -> bool:
        """Whether readings from `low` to `high`, once corrected, reach beyond the references."""
        return self.corrected(low) < self.low or self.corrected(high) > self.high

    def declared(self, instrument_id: str, *, note: str = "") -> Correction:
        """The correction as `lab.toml` declares it.

        A budget takes declared uncertainties as exactly known; they are therefore raised by t(df) / 1.96, so that its
        95 % intervals hold with few checks too.
        """
        return Correction(
            instrument_id=instrument_id,
            offset=self.offset,
            slope=self.slope,
            standard_uncertainty=math.hypot(self.height_u, self.wander) * _raised(self.df),
            slope_u=self.slope_u * _raised(self.slope_df),
            centre=self.centre,
            low=self.low,
            high=self.high,
            note=note,
        )


@dataclass(frozen=True, slots=True)
class NoCorrection:
    """No correction can be found, and why."""

    n_checks: int
    reason: str


def fit_correction(
    checks: Sequence[Check],
    *,
    resolution: float | None = None,
    reference_u: float | None = None,
    repeat_sd: float | None = None,
    kind: Kind | None = None,
) -> FittedCorrection | NoCorrection:
    """The correction that reference checks of one instrument call for; zero checks are passed over.

    `reference_u` is the standard uncertainty of a reference value where a check states none; without either the
    references count as exact. `repeat_sd` is the scatter of readings of one drop, which a budget counts on its own.
    `kind` None fits a slope where the references fix it to a quarter either way.
    """
    used = [check for check in checks if check.kind == "reference"]
    refusal = _refusal(used)
    if refusal:
        return NoCorrection(len(used), refusal)
    means = reference_means(used, reference_u)
    step = (resolution or 0.0) ** 2 / 12
    line, no_slope = _chosen(means, step, kind)
    if line is None:
        return NoCorrection(len(used), no_slope)
    if _exact(means, line, step):
        return NoCorrection(
            len(used), "the checks agree to the last digit and no display step is stated: no uncertainty"
        )
    return _result(used, means, line, step, repeat_sd, no_slope)


def _refusal(used: Sequence[Check]) -> str:
    if not used:
        return "there are no reference checks"
    if len(used) < FEWEST_CHECKS:
        what = "one reference check" if len(used) == 1 else f"{len(used)} reference checks"
        return f"{what} only; how far checks scatter takes {FEWEST_CHECKS}"
    return ""


def _exact(means: ReferenceMeans, line: MeansLine, step: float) -> bool:
    """Whether nothing at all is known to be uncertain."""
    variance, _ = check_scatter(means, line, 2 if line.var_slope > 0 else 1)
    stated = means.variance.any() or means.shared.any()
    return step == 0 and not stated and math.sqrt(variance) <= NOTHING * float(np.abs(means.value).max())


def _chosen(means: ReferenceMeans, step: float, kind: Kind | None) -> tuple[MeansLine | None, str]:
    """The fit to use, and why there is no slope in it or no fit at all."""
    flat = settled_line(means, step, slope=False)
    if kind == "offset":
        return flat, "an offset alone was asked for"
    why = _no_slope(means)
    if not why:
        line = settled_line(means, step, slope=True)
        half = float(stdtrit(max(_line_df(means), 1), 0.5 + LEVEL / 2)) * math.sqrt(line.var_slope)
        if half <= WIDEST_SLOPE:
            return (line, "") if 1 / STEEPEST <= line.slope <= STEEPEST else (None, _no_line(line.slope))
        why = f"the references lie too near each other: a slope would be known to {half:.2g} either way only"
    return (None, why) if kind == "offset and slope" else (flat, why)


def _no_line(slope: float) -> str:
    return (
        f"it would read {number(slope, 2)} higher where a reference is 1 higher, which no instrument does: look "
        "for a wrong reference value"
    )


def _no_slope(means: ReferenceMeans) -> str:
    if means.value.size == 1:
        return "one reference value only"
    if means.n.sum() < FEWEST_FOR_LINE:
        return f"a slope takes {FEWEST_FOR_LINE} checks"
    return ""


def _line_df(means: ReferenceMeans) -> int:
    return int(means.n.sum()) - 2


def _result(
    used: Sequence[Check], means: ReferenceMeans, line: MeansLine, step: float, repeat_sd: float | None, no_slope: str
) -> FittedCorrection:
    fitted = 2 if line.var_slope > 0 else 1
    spare = means.value.size - fitted
    misfit = spare > 0 and float(chdtrc(spare, line.chi2)) < MISFIT_P
    widened = max(line.chi2 / spare, 1.0) if misfit else 1.0
    variance, _ = check_scatter(means, line, fitted)
    wander = max(variance - step - (repeat_sd or 0.0) ** 2, 0.0)
    var_slope = line.var_slope * widened + line.shared_in_slope**2
    aside = _aside(line, var_slope)
    height = line.var_height * widened + line.shared_in_height**2 - aside**2 * var_slope
    in_height = (line.scatter_in_height + aside**2 * line.scatter_in_slope) * widened + wander
    found = FittedCorrection(
        kind="offset and slope" if fitted == 2 else "offset",
        offset=line.offset,
        slope=line.slope,
        centre=line.centre - aside,
        height_u=math.sqrt(height) / line.slope,
        slope_u=math.sqrt(var_slope),
        wander=math.sqrt(wander) / line.slope,
        df=_df(height + wander, in_height, line.df),
        slope_df=_df(var_slope, line.scatter_in_slope * widened, line.df),
        n_checks=len(used),
        n_references=means.value.size,
        low=float(means.value.min()),
        high=float(means.value.max()),
        first=min(check.checked_at for check in used),
        last=max(check.checked_at for check in used),
        scatter=math.sqrt(variance),
        references_exact=not (means.variance.any() or means.shared.any()),
        misfit=misfit,
        no_slope=no_slope,
    )
    if misfit:
        return replace(found, df=min(found.df, spare), slope_df=min(found.slope_df, spare))
    return found


def _aside(line: MeansLine, var_slope: float) -> float:
    """How far below the line's centre the errors of height and slope are independent.

    What references share moves height and slope together, with covariance `shared_in_height shared_in_slope`. The
    variance of the line, `var_height + 2 d covariance + d^2 var_slope` at d from the centre, is smallest, and the two
    independent, at `d = -covariance / var_slope`.
    """
    return line.shared_in_height * line.shared_in_slope / var_slope if var_slope > 0 else 0.0


def _df(variance: float, from_scatter: float, df: int) -> float:
    """Satterthwaite's degrees of freedom of a variance of which a part was estimated with `df`."""
    return df * (variance / from_scatter) ** 2 if from_scatter > 0 else math.inf


def _raised(df: float) -> float:
    """By how much a standard uncertainty with `df` is raised to be taken as exactly known."""
    upper = 0.5 + LEVEL / 2
    return float(stdtrit(df, upper)) / float(ndtri(upper)) if math.isfinite(df) else 1.0
