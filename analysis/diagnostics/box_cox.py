"""The power of a response at which its scatter is most even: Box and Cox's family, by profile likelihood."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import optimize, stats

from analysis.diagnostics.case import less
from analysis.effects.fit import CONFIDENCE, Floats

WIDEST = 5.0
"""Powers are looked for between minus and plus this; an end that lies beyond is that."""
NEAR_LOG = 1e-8


@dataclass(frozen=True, slots=True)
class BoxCox:
    """The likeliest power with its 95 % interval: 1 is the response as it is, 0 its logarithm, -1 its inverse."""

    power: float
    low: float
    high: float


def box_cox(y: Floats, span: Floats) -> BoxCox | None:
    """The power of `y` (n,) that a least-squares fit on the orthonormal `span` (n, k) suits best; None unless y > 0.

    Box & Cox (1964), Journal of the Royal Statistical Society B 26:211: the profile log-likelihood is
    -n/2 log(residual sum of squares of (y^p - 1) / (p g^(p - 1))), g the geometric mean of y; the interval holds all
    powers within chi-squared(1) / 2 of its top.
    """
    if y.min() <= 0 or y.size <= span.shape[1] + 1 or np.ptp(y) == 0:
        return None
    logs = np.log(y)
    mean = float(logs.mean())

    def lost(power: float) -> float:
        if abs(power) < NEAR_LOG:
            turned = logs * np.exp(mean)
        else:
            turned = np.expm1(power * logs) / (power * np.exp((power - 1) * mean))
        left = less(turned, span)
        return float(y.size / 2 * np.log(left @ left))

    top = optimize.minimize_scalar(lost, bounds=(-WIDEST, WIDEST), method="bounded", options={"xatol": 1e-9})
    best, least = float(top.x), float(top.fun)
    room = float(stats.chi2.ppf(CONFIDENCE, 1)) / 2

    def end(side: float) -> float:
        if lost(side) - least <= room:
            return side
        return float(optimize.brentq(lambda power: lost(power) - least - room, best, side, xtol=1e-9))

    return BoxCox(best, end(-WIDEST), end(WIDEST))
