"""Where the spread of one attribute's scores lies, as standard deviations with intervals."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import stats

from analysis.mixed.arrays import CONFIDENCE
from analysis.mixed.fit import MixedFit

REPEATS = "repeats"
UNSEEN_DF = 0.1
"""Under this many degrees of freedom a component's interval says nothing."""


@dataclass(frozen=True, slots=True)
class SpreadPart:
    """Standard deviation of one part, score units, with an approximate 95 % interval; None where endless."""

    name: str
    sd: float
    low: float | None
    high: float | None


def spread_parts(fit: MixedFit) -> tuple[SpreadPart, ...]:
    """The kept parts and what is left between repeats, `repeats`, last.

    Intervals by chi-squared with Satterthwaite's degrees of freedom 2 v^2 / var(v), var(v) from the observed
    information (Satterthwaite 1946).
    """
    errors = np.diag(fit.variance_covariance)
    residual = _part(REPEATS, fit.sigma**2, float(errors[0]))
    kept = [_part(name, v, float(error)) for (name, v), error in zip(fit.components.items(), errors[1:], strict=True)]
    return (*kept, residual)


def _part(name: str, variance: float, error: float) -> SpreadPart:
    df = 2 * variance**2 / error
    sd = float(np.sqrt(variance))
    if df < UNSEEN_DF:
        return SpreadPart(name, sd, None, None)
    tails = stats.chi2.ppf([0.5 + CONFIDENCE / 2, 0.5 - CONFIDENCE / 2], df)
    low, high = (float(sd * np.sqrt(df / tail)) if tail > 0 else np.inf for tail in tails)
    return SpreadPart(name, sd, low, high if np.isfinite(high) and high < 1e3 * sd else None)
