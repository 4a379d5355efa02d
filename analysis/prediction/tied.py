"""How yield and strength hang together: covariances of what one brew, session or coffee adds to both."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from analysis.mixed.arrays import Floats, NoFit
from analysis.mixed.fit import MixedFit
from analysis.mixed.model import RandomPart, fit_mixed_model
from analysis.prediction.model import Linear, ResponseModel

CLOSEST = 1 - 1e-6
"""Largest correlation in size: at 1 itself the two would be one number, whose plane has no area."""


@dataclass(frozen=True)
class Tied:
    """Covariances between the two responses: `residual` from brew to brew, `parts` by random part.

    `pulled` names those that came out beyond what two variances allow and were brought back to it.
    """

    residual: float
    parts: dict[str, float]
    pulled: tuple[str, ...]


def tie(first: ResponseModel, second: ResponseModel) -> Tied:
    """Covariances from REML of the sum and of the difference of the two, each over its own residual spread.

    Var(a + b) - Var(a - b) = 4 Cov(a, b), component by component; exact for balanced brews, where REML variances are
    quadratic in the responses. Each 2 x 2 covariance matrix is kept positive definite.
    """
    one, two = first.y / first.fit.sigma, second.y / second.fit.sigma
    x = first.x if first.x.shape[1] >= second.x.shape[1] else second.x
    parts = _both(first.parts, second.parts)
    plus, minus = fit_mixed_model(one + two, x, parts), fit_mixed_model(one - two, x, parts)
    pulled: list[str] = []

    def between(name: str | None, own: tuple[float, float]) -> float:
        both = _covariance(_variance(plus, name), _variance(minus, name), own) if min(own) > 0 else 0.0
        most = CLOSEST * float(np.sqrt(own[0] * own[1]))
        if abs(both) > most:
            pulled.append(name or "brew to brew")
        return float(np.clip(both, -most, most)) * first.fit.sigma * second.fit.sigma

    residual = between(None, (1.0, 1.0))
    found = {part.name: between(part.name, (_own(first, part), _own(second, part))) for part in parts}
    return Tied(residual, found, tuple(pulled))


def _both(first: Sequence[RandomPart], second: Sequence[RandomPart]) -> list[RandomPart]:
    there = {part.name for part in first}
    return [*first, *(part for part in second if part.name not in there)]


def _own(model: ResponseModel, part: RandomPart) -> float:
    """Variance of a part over that from brew to brew."""
    return model.fit.components.get(part.name, 0.0) / model.fit.sigma**2


def _variance(fit: MixedFit | NoFit, name: str | None) -> float | None:
    """A variance of the sum or difference; None where it has none because nothing is left over in it."""
    if isinstance(fit, NoFit):
        return None
    return fit.sigma**2 if name is None else fit.components.get(name, 0.0)


def _covariance(plus: float | None, minus: float | None, own: tuple[float, float]) -> float:
    """Covariance from what there is; where a sum or difference is the same in all brews it adds no variance."""
    if plus is not None and minus is not None:
        return (plus - minus) / 4
    if plus is not None:
        return (plus - sum(own)) / 2
    return 0.0 if minus is None else (sum(own) - minus) / 2


def estimation_covariance(one: Linear, two: Linear, tied: Tied) -> Floats:
    """Covariance (m,) of the two errors of estimation: weights by weights, what is left of each level by each."""
    total = tied.residual * np.sum(one.weights * two.weights, axis=0)
    for name, both in tied.parts.items():
        if name in one.gaps and name in two.gaps:
            total = total + both * np.sum(one.gaps[name] * two.gaps[name], axis=0)
    return np.asarray(total, dtype=np.float64)


def brew_covariance(one: Linear, two: Linear, tied: Tied) -> Floats:
    """Covariance (m,) of how one brew scatters about both estimates: a new coffee, sessions, operators, brewing."""
    total = np.full(one.value.size, tied.residual)
    for name, both in tied.parts.items():
        if name in one.fresh and name in two.fresh:
            total = total + both * one.fresh[name] * two.fresh[name]
        if name in one.once and name in two.once:
            total = total + both
    return np.asarray(total, dtype=np.float64)
