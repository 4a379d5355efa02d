"""How much each brew weighs in a plain fit: leverage, Cook's distance, DFFITS, DFBETAS, covariance ratio."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analysis.diagnostics.case import Case, basis, less
from analysis.diagnostics.least_squares import LEVERAGE_ONE, PlainFit
from analysis.effects.fit import Floats

INVOLVED = 1e-6
"""A slope takes part in what a brew fixes alone when its share of that direction is more than rounding."""


@dataclass(frozen=True)
class Influence:
    """Influence of n brews on a fit of p numbers, k of them slopes; NaN where the leverage is 1.

    `leverage`, `external` (externally studentised residual), `cook`, `dffits`, `covratio` (n,); `dfbetas` (n, k), the
    change of each slope without the brew in its standard errors. Belsley, Kuh & Welsch (1980), chapter 2; Cook (1977).
    """

    leverage: Floats
    external: Floats
    cook: Floats
    dffits: Floats
    covratio: Floats
    dfbetas: Floats


def influence(fit: PlainFit) -> Influence:
    """The influence of every brew on a plain fit with at least two degrees of freedom (else NaN throughout)."""
    p = fit.x.shape[1]
    h, e = fit.leverage, fit.residual
    free = (h < LEVERAGE_ONE) & (fit.df > 1)
    room = np.where(free, 1 - h, np.nan)
    left = np.maximum(fit.df * fit.sigma**2 - e**2 / room, 0.0) / max(fit.df - 1, 1)
    left = np.where(left > 0, left, np.nan)
    length = np.sqrt(np.sum(fit.x**2, axis=0))
    q, r = np.linalg.qr(fit.x / length)
    inverse = np.linalg.inv(r)
    k = fit.kept.size
    change = (inverse[:k] @ q.T) * (e / room)
    size = np.sqrt(np.sum(inverse[:k] ** 2, axis=1))
    external = e / np.sqrt(left * room)
    return Influence(
        leverage=h,
        external=external,
        cook=e**2 * h / (p * fit.sigma**2 * room**2),
        dffits=external * np.sqrt(h / room),
        covratio=(left / fit.sigma**2) ** p / room,
        dfbetas=(change / size[:, None] / np.sqrt(left)).T,
    )


def fixed_alone(case: Case, fit: PlainFit, row: int) -> tuple[int, ...]:
    """Places in `case.terms` of the slopes that cannot be told without this brew (leverage 1).

    Empty when the brew fixes only the level of its coffee or grinder.
    """
    without = np.delete(np.arange(case.n), row)
    levels = basis(case.levels[without])
    slopes = less(case.slopes[without][:, fit.kept], levels)
    length = np.sqrt(np.sum(case.within[:, fit.kept] ** 2, axis=0))
    if fit.kept.size == 0:
        return ()
    _, size, axes = np.linalg.svd(slopes / length, full_matrices=True)
    full = np.zeros(fit.kept.size)
    full[: size.size] = size
    lost = axes[full <= 1e-7]
    return tuple(int(k) for k, part in zip(fit.kept, np.abs(lost).T, strict=True) if part.max(initial=0.0) > INVOLVED)
