"""A linear mixed model with any number of crossed or nested variance components, fitted by REML."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from analysis.mixed.arrays import Floats, NoFit
from analysis.mixed.checks import NOTHING_LEFT
from analysis.mixed.climb import NOTHING, top
from analysis.mixed.fit import FTest, MixedFit
from analysis.mixed.likelihood import Likelihood, level_variances
from analysis.mixed.scaled import RandomPart, Scaled, scale
from analysis.mixed.whitening import Whitening

__all__ = ["FTest", "MixedFit", "NoFit", "RandomPart", "fit_mixed_model"]

NOT_CONVERGED = "the mixed model did not converge, so its standard errors cannot be trusted"
PINNED = 1e-8
"""Share of the residual variance under which a row is met whatever it reads."""


def fit_mixed_model(
    y: Floats, x: Floats, parts: Sequence[RandomPart], *, whitening: Whitening | None = None
) -> MixedFit | NoFit:
    """`y` (n,) on `x` (n, p), as given, with `parts` crossed or nested, by REML; NoFit says why there is none.

    A part whose variance comes out as zero is dropped, alone, and named; the others are at their best without it.
    Without parts, or with none left, this is least squares with n - p degrees of freedom.
    """
    data = scale(y, x, parts, whitening=whitening)
    if isinstance(data, NoFit):
        return data
    end = top(data.rotated)
    if end is None:
        return NoFit(NOT_CONVERGED)
    if end.theta[0] < NOTHING * end.theta.max():
        names = " and ".join(part.name for part, variance in zip(parts, end.theta[1:], strict=True) if variance > 0)
        return NoFit(f"the levels of {names} meet every brew exactly, so {NOTHING_LEFT}")
    return _assemble(data, end, y, x, parts, whitening)


def _assemble(
    data: Scaled, end: Likelihood, y: Floats, x: Floats, parts: Sequence[RandomPart], whitening: Whitening | None
) -> MixedFit:
    """The fit at the top, back in the units of `y` and `x`."""
    kept = np.flatnonzero(np.concatenate([[True], end.theta[1:] > 0]))
    units = data.height**2 / np.concatenate([[1.0], data.depth]) ** 2
    covariance, slope = _covariance(data, end.theta)
    estimate = (data.least - data.inverse @ data.z @ (level_variances(data.rotated, end.theta) * end.pull)) * (
        data.height / data.width
    )
    turn = data.height**2 / np.outer(data.width, data.width)
    levels = {
        part.name: variance * pull * data.height / depth
        for part, variance, pull, depth in zip(parts, end.theta[1:], _by_part(data, end.pull), data.depth, strict=True)
        if variance > 0
    }
    fitted = x @ estimate + sum(part.slope * levels[part.name][part.codes] for part in parts if part.name in levels)
    residual = y - fitted
    white = residual if whitening is None else whitening.apply(residual)
    spread = np.linalg.inv(end.information[np.ix_(kept, kept)])
    return MixedFit(
        estimate=estimate,
        covariance=covariance * turn,
        fitted=fitted,
        residual=residual,
        standardised=white / (data.height * _room(data, end.theta)),
        sigma=float(np.sqrt(end.theta[0])) * data.height,
        components={parts[k - 1].name: float(end.theta[k] * units[k]) for k in kept[1:]},
        dropped=tuple(part.name for part, variance in zip(parts, end.theta[1:], strict=True) if variance <= 0),
        levels=levels,
        criterion=end.criterion + data.lift,
        covariance_slope=slope[kept] * turn / units[kept][:, None, None],
        variance_covariance=spread * np.outer(units[kept], units[kept]),
    )


def _by_part(data: Scaled, levels: Floats) -> list[Floats]:
    return [levels[row > 0] for row in data.rotated.part_of]


def _covariance(data: Scaled, theta: Floats) -> tuple[Floats, Floats]:
    """Covariance of the scaled estimate (p, p) and its slope by variance (K, p, p); zero variances get slope zero.

    With D = x+ Z and W = (1 / T + F F' / s^2)^-1 over the levels with a variance: covariance s^2 (x'x)^-1 + D W D',
    slope D W T^-1 (part k) T^-1 W D' for a part and (x'x)^-1 + D W F F' W D' / s^4 for the residual.
    """
    variance = level_variances(data.rotated, theta)
    on = variance > 0
    f, root = data.rotated.quadratic.columns[on], np.sqrt(variance[on])
    d = (data.inverse @ data.z)[:, on]
    w = root[:, None] * np.linalg.inv(np.eye(root.size) + root[:, None] * (f @ f.T) * root / theta[0]) * root
    d_w = d @ w
    plain = data.inverse @ data.inverse.T
    reach = d_w @ f / theta[0]
    turned = d_w / variance[on]
    of_parts = np.einsum("pq,kq,rq->kpr", turned, data.rotated.part_of[:, on], turned)
    slope = np.concatenate([(plain + reach @ reach.T)[None], of_parts])
    return theta[0] * plain + d_w @ d.T, slope


def _room(data: Scaled, theta: Floats) -> Floats:
    """Standard deviation of each scaled residual (n,): s^2 P has the diagonal of its variance over s^2.

    1 - leverage without parts; studentised conditional residuals with them (Nobre and Singer 2007).
    """
    rotated = data.rotated
    f, axes = rotated.quadratic.columns, rotated.axes
    inside = np.linalg.inv(np.eye(f.shape[1]) + (f.T * (level_variances(rotated, theta) / theta[0])) @ f)
    share = 1 - np.sum(data.basis**2, axis=1) - np.sum(axes**2, axis=1) + np.sum((axes @ inside) * axes, axis=1)
    return np.asarray(np.sqrt(theta[0] * np.maximum(share, PINNED)), dtype=np.float64)
