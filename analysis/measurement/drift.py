"""How an instrument's error moves with time: a straight line through its checks, with its interval.

Checks made together count once: they share that day's zeroing. Each reference value keeps its own level, so that a new
bottle is not taken for drift. A step from one check to the next is not assumed; it shows as scatter or as a slope.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

import numpy as np
import numpy.typing as npt
from scipy.special import stdtrit

from analysis.measurement.calibration import Check
from analysis.words import count

Floats = npt.NDArray[np.float64]
LEVEL = 0.95
TOGETHER = timedelta(hours=1)
WEEK = timedelta(weeks=1)
FEWEST_OCCASIONS = 3
MANY_OCCASIONS = 10
"""From here on it can be told whether neighbouring checks are alike."""
NOTHING = 1e-9


@dataclass(frozen=True, slots=True)
class Drift:
    """Change of the error in units of the instrument per week, with its 95 % interval.

    `scatter` is the standard deviation of an occasion about the line, `df` its degrees of freedom. `wanders` says that
    neighbouring occasions are alike beyond the line: the interval is then too narrow.
    """

    n_checks: int
    n_occasions: int
    first: datetime
    last: datetime
    per_week: float
    low: float
    high: float
    df: int
    scatter: float
    wanders: bool

    @property
    def per_day(self) -> float:
        """The same change per day."""
        return self.per_week / 7

    @property
    def shown(self) -> bool:
        """Whether the interval leaves out zero."""
        return self.low > 0 or self.high < 0


@dataclass(frozen=True, slots=True)
class NoDrift:
    """No drift can be told, and why."""

    n_checks: int
    reason: str


def drift(checks: Sequence[Check], *, resolution: float | None = None) -> Drift | NoDrift:
    """The drift that checks of one kind show; refused with fewer than three occasions.

    Scatter is not taken below that of the display, resolution / sqrt(12).
    """
    ordered = sorted(checks, key=lambda check: check.checked_at)
    starts = _occasions(ordered)
    refusal = _too_few(ordered, starts)
    if refusal:
        return NoDrift(len(ordered), refusal)
    weeks, errors, levels = _per_occasion(ordered, starts)
    basis = _basis(levels)
    own_time, own_error = weeks - basis @ (basis.T @ weeks), errors - basis @ (basis.T @ errors)
    sxx = float(own_time @ own_time)
    df = len(starts) - basis.shape[1] - 1
    if df < 1 or sxx <= NOTHING * float(weeks @ weeks):
        return NoDrift(len(ordered), "the reference values changed along with time, so that neither can be told apart")
    slope = float(own_time @ own_error) / sxx
    residual = own_error - slope * own_time
    scatter = max(math.sqrt(float(residual @ residual) / df), (resolution or 0.0) / math.sqrt(12))
    if scatter <= NOTHING * max(1.0, float(np.abs(errors).max())) and not resolution:
        return NoDrift(len(ordered), "no check scatters and no display step is stated, so that there is no interval")
    half = float(stdtrit(df, 0.5 + LEVEL / 2)) * scatter / math.sqrt(sxx)
    return Drift(
        n_checks=len(ordered),
        n_occasions=len(starts),
        first=ordered[0].checked_at,
        last=ordered[-1].checked_at,
        per_week=slope,
        low=slope - half,
        high=slope + half,
        df=df,
        scatter=scatter,
        wanders=_alike(residual),
    )


def _occasions(ordered: Sequence[Check]) -> list[int]:
    """Position of the first check of each occasion; one lasts an hour."""
    starts: list[int] = []
    for position, check in enumerate(ordered):
        if not starts or check.checked_at - ordered[starts[-1]].checked_at > TOGETHER:
            starts.append(position)
    return starts


def _too_few(ordered: Sequence[Check], starts: Sequence[int]) -> str:
    if not ordered:
        return "there are no checks"
    if len(ordered) == 1:
        return f"one check only; it takes {FEWEST_OCCASIONS} at different times"
    if len(starts) == 1:
        return f"all {len(ordered)} checks were made within an hour"
    if len(starts) < FEWEST_OCCASIONS:
        return f"checks at {count(len(starts), 'time')} only; a line always fits them, it takes {FEWEST_OCCASIONS}"
    return ""


def _per_occasion(ordered: Sequence[Check], starts: Sequence[int]) -> tuple[Floats, Floats, Floats]:
    """Per occasion: weeks since the first check, mean error, and the share of its checks at each reference value."""
    values = sorted({check.reference for check in ordered})
    ends = [*starts[1:], len(ordered)]
    groups = [ordered[start:end] for start, end in zip(starts, ends, strict=True)]
    first = ordered[0].checked_at
    weeks = [sum((check.checked_at - first) / WEEK for check in group) / len(group) for group in groups]
    errors = [sum(check.error for check in group) / len(group) for group in groups]
    levels = [[sum(check.reference == value for check in group) / len(group) for value in values] for group in groups]
    return np.array(weeks), np.array(errors), np.array(levels)


def _basis(levels: Floats) -> Floats:
    """Orthonormal columns that span the levels of the reference values: one where all were checked each time."""
    directions, sizes, _ = np.linalg.svd(levels, full_matrices=False)
    return np.asarray(directions[:, sizes > NOTHING * sizes[0]], np.float64)


def _alike(residual: Floats) -> bool:
    """Whether neighbours are alike: lag-1 autocorrelation beyond 2 / sqrt(n), with enough occasions to tell."""
    n, whole = residual.size, float(residual @ residual)
    if n < MANY_OCCASIONS or whole == 0:
        return False
    return float(residual[1:] @ residual[:-1]) / whole > 2 / math.sqrt(n)
