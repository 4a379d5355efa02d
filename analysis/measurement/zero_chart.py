"""Whether a check passed: by the tolerance that the lab declares, else by limits from the checks themselves.

Limits of single values come from the mean moving range (NIST/SEMATECH e-Handbook, 6.3.2.2).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

from analysis.measurement.calibration import Check, series
from schemas.lab import CheckLimits

D2, D4 = 1.128, 3.267
"""Constants of a range of two, with the digits that the handbook prints."""
SIGMAS = 3.0
FEWEST_CHECKS = 8
"""With fewer, limits from the checks themselves would be guesswork."""
STEPS_ALLOWED = 1.5
"""A value one display step from the centre, which lies within half a step of a shown value, is no failure."""
ROUNDING = 1e-9

Basis = Literal["tolerance", "control limits", "none"]


@dataclass(frozen=True, slots=True)
class IndividualsChart:
    """Control limits of single values in their own unit; `outside` are positions beyond them.

    `range_upper` is the limit of the moving range. `widened` says that the display step, not the scatter, sets them.
    """

    n: int
    centre: float
    mean_range: float
    lower: float
    upper: float
    range_upper: float
    outside: tuple[int, ...]
    widened: bool


@dataclass(frozen=True, slots=True)
class NotCharted:
    """No control limits, and why."""

    n: int
    reason: str


@dataclass(frozen=True, slots=True)
class Verdict:
    """One check with the errors that were allowed; `passed` is None where nothing decides (then both are infinite).

    `n` are the checks that control limits rest on, 0 for a declared tolerance.
    """

    check: Check
    passed: bool | None
    basis: Basis
    low: float
    high: float
    n: int


def individuals_chart(values: Sequence[float], *, resolution: float | None = None) -> IndividualsChart | NotCharted:
    """Limits at 3 standard deviations, taken as mean moving range / 1.128; `values` in order of time.

    The display's step sets a floor: where hardly any value differs, one step from the centre would else be a failure.
    """
    n = len(values)
    if n < FEWEST_CHECKS:
        return NotCharted(n, f"control limits need {FEWEST_CHECKS} checks, there {'is' if n == 1 else 'are'} {n}")
    centre = math.fsum(values) / n
    mean_range = math.fsum(abs(later - earlier) for earlier, later in pairwise(values)) / (n - 1)
    from_ranges, floor = SIGMAS * mean_range / D2, STEPS_ALLOWED * (resolution or 0.0)
    reach = max(from_ranges, floor)
    return IndividualsChart(
        n=n,
        centre=centre,
        mean_range=mean_range,
        lower=centre - reach,
        upper=centre + reach,
        range_upper=D4 * mean_range,
        outside=tuple(at for at, value in enumerate(values) if abs(value - centre) > reach + ROUNDING),
        widened=floor > from_ranges,
    )


def verdicts(
    checks: Sequence[Check], limits: CheckLimits, *, resolution: float | None = None
) -> tuple[tuple[Verdict, ...], ...]:
    """Pass or fail of every check, by series (`calibration.series`), each in order of time."""
    return tuple(_of_series(part, limits, resolution) for part in series(checks))


def _of_series(checks: Sequence[Check], limits: CheckLimits, resolution: float | None) -> tuple[Verdict, ...]:
    tolerance = limits.zero_tolerance if checks[0].kind == "water_zero" else limits.reference_tolerance
    if tolerance is not None:
        return tuple(_judged(check, "tolerance", -tolerance, tolerance, 0) for check in checks)
    chart = individuals_chart([check.error for check in checks], resolution=resolution)
    if isinstance(chart, NotCharted):
        return tuple(Verdict(check, None, "none", -math.inf, math.inf, chart.n) for check in checks)
    return tuple(_judged(check, "control limits", chart.lower, chart.upper, chart.n) for check in checks)


def _judged(check: Check, basis: Basis, low: float, high: float, n: int) -> Verdict:
    return Verdict(check, low - ROUNDING <= check.error <= high + ROUNDING, basis, low, high, n)
