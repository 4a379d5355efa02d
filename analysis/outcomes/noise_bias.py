"""What errors in the factors do to slopes: attenuation, and a slope that weighing alone makes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from analysis.effects.factors import FACTORS
from analysis.outcomes.noise import FactorNoise
from analysis.outcomes.weighed_slopes import Floats
from analysis.words import number, signed

MOST_OF_THE_ESTIMATE = 0.5
"""A slope whose expected bias is more than this share of it is not put into a sentence."""
WORTH_SAYING = 0.05


@dataclass(frozen=True, slots=True)
class NoiseBias:
    """One slope, in the response's unit per unit of `factor`, and what errors of measurement are expected to add.

    `corrected` is the slope without them; `bias` = estimate - corrected; `noise_share` is the share of the factor's
    spread within groups, beside the other terms, that is error (the slope shrinks by about it).
    """

    factor: str
    estimate: float
    corrected: float
    noise_share: float

    @property
    def bias(self) -> float:
        """Expected bias of the estimate."""
        return self.estimate - self.corrected

    @property
    def withheld(self) -> bool:
        """Whether the bias is too large a part of the estimate for a sentence to stand on it."""
        return not np.isfinite(self.corrected) or abs(self.bias) > MOST_OF_THE_ESTIMATE * abs(self.estimate)

    def sentence(self, *, step: float, unit: str, places: int) -> str:
        """What the reader must know; empty where the bias is under 5 % of the slope."""
        noun, per = FACTORS[self.factor].noun, FACTORS[self.factor].per(step)
        if not np.isfinite(self.corrected):
            return (
                f"The {noun} hardly varied beyond its own measuring error, so its slope says nothing here. "
                "Brew settings that lie farther apart, or use the planned value."
            )
        if abs(self.bias) <= WORTH_SAYING * abs(self.estimate):
            return ""
        moved, without = (signed(value * step, places) for value in (self.bias, self.corrected))
        said = (
            f"Errors of measuring the {noun} are expected to have moved its effect by {moved} {unit} per {per}; "
            f"without them it would be about {without} {unit}"
        )
        if self.withheld:
            return f"{said}. That is more than half of the effect found, so it is not stated."
        return f"{said} ({number(100 * self.noise_share, 0)} % of the spread of the {noun} is measuring error)."


def noise_biases(
    estimates: Sequence[float], within: Floats, *, noise: FactorNoise, n_free: int
) -> tuple[NoiseBias, ...]:
    """Undo what the errors of `noise` do to linear slopes, by moments.

    `estimates` (k,) per unit of each factor, in the order of `noise.factors`; `within` (k, k) sums of squares and
    products of the factors less everything else in the model; `n_free` the degrees of freedom those rest on. With S =
    within / n_free, errors E in the factors and e with the response, least squares tends to S^-1 ((S - E) b + e), so
    b = (S - E)^-1 (S estimate - e) (Fuller 1987, Measurement Error Models, section 2.2; re-derived, from memory).
    """
    k = len(noise.factors)
    spread = np.asarray(within, dtype=np.float64).reshape(k, k) / n_free
    own = 1 / np.diag(np.linalg.inv(spread))
    shares = np.diag(noise.within) / own
    found = np.asarray(estimates, dtype=np.float64)
    true_spread = spread - noise.within
    if np.linalg.eigvalsh(true_spread).min() <= 0:
        corrected = np.where(shares > 0, np.nan, found)
    else:
        corrected = np.linalg.solve(true_spread, spread @ found - noise.with_response)
    return tuple(
        NoiseBias(name, float(b), float(c), float(share))
        for name, b, c, share in zip(noise.factors, found, corrected, shares, strict=True)
    )
