"""The spread of brews at one setting, split into its sources."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from scipy import stats

from analysis.mixed.arrays import Floats
from analysis.mixed.fit import MixedFit
from analysis.spread.measured import MeasuredSpread
from schemas.problem import ProblemError

BREW = "brew to brew"
MEASUREMENT = "measurement"
DRAWS = 4000


@dataclass(frozen=True, slots=True)
class Source:
    """One source: its variance in points squared, and its share of all, 0 to 1, with a 95 % interval.

    The interval is that of the other variances being known no better than the brews tell; None where the brews tell
    nothing of it (a variance that came out as zero).
    """

    name: str
    variance: float
    share: float
    low: float | None
    high: float | None

    @property
    def sd(self) -> float:
        """Standard deviation in points."""
        return float(np.sqrt(self.variance))


@dataclass(frozen=True, slots=True)
class SpreadSources:
    """All sources, in the order of the model, brew to brew and measurement last; `total_sd` in points."""

    sources: tuple[Source, ...]
    total_sd: float
    measured: MeasuredSpread
    measured_exceeds: bool
    n_brews: int

    def source(self, name: str) -> Source:
        """The source of that name."""
        return next(source for source in self.sources if source.name == name)

    @property
    def measurement_of_brew(self) -> float:
        """Share of measuring in the spread of brews of one coffee, session and operator, 0 to 1."""
        brew, measuring = self.source(BREW).variance, self.source(MEASUREMENT).variance
        return measuring / (brew + measuring) if brew + measuring > 0 else 0.0


def spread_sources(
    fit: MixedFit, measured: MeasuredSpread, *, slopes: frozenset[str], rng: np.random.Generator
) -> SpreadSources:
    """Split the variance of brews at one setting by a fitted model and the budgets of the same brews.

    `slopes` names the parts that are slopes differing by coffee: they spread the answer to a change of setting, not
    brews at one setting, and stay out. What is measured is part of the residual variance; where the budgets claim more
    than the residual holds, all of it counts as measurement and `measured_exceeds` says so. Intervals: 2.5 and 97.5 %
    points of shares over draws of the variances.
    """
    kept = {name: value for name, value in fit.components.items() if name not in slopes}
    zero = [name for name in fit.dropped if name not in slopes]
    residual = fit.sigma**2
    if residual <= 0:
        raise ProblemError("These brews repeat each other exactly, so there is no spread to split.")
    draws = _drawn(fit, kept, rng=rng)
    measuring = min(measured.variance, residual)
    variances = {**kept, **dict.fromkeys(zero, 0.0), BREW: residual - measuring, MEASUREMENT: measuring}
    total = sum(variances.values())
    shares = _shares(draws, measured.variance)
    sources = tuple(
        Source(name, value, value / total, *shares.get(name, (None, None))) for name, value in variances.items()
    )
    return SpreadSources(sources, float(np.sqrt(total)), measured, measured.variance > residual, fit.fitted.size)


def _drawn(fit: MixedFit, kept: Mapping[str, float], *, rng: np.random.Generator) -> dict[str, Floats]:
    """Draws of each kept variance and of the residual one, (DRAWS,) each.

    A variance close to zero is no scaled inverse chi-square: its tail would run off. So each is drawn as a mean square
    less its share of the residual variance, floored at zero: v + b s^2 with b = -cov(v, s^2) / var(s^2), which is
    uncorrelated with s^2; in a balanced log that is the mean square between levels over their size, and the interval
    of a share the classical one (generalised pivotal quantities: Weerahandi 1993, JASA 88:899; from memory).
    """
    own, beside = np.diag(fit.variance_covariance), fit.variance_covariance[0]
    residual = _scaled(fit.sigma**2, own[0], rng=rng)
    drawn = {"": residual}
    for k, (name, value) in enumerate(fit.components.items(), start=1):
        if name in kept:
            share = max(-float(beside[k]) / float(own[0]), 0.0)
            square, spread = value + share * fit.sigma**2, own[k] + 2 * share * beside[k] + share**2 * own[0]
            drawn[name] = np.maximum(_scaled(square, float(spread), rng=rng) - share * residual, 0.0)
    return drawn


def _scaled(value: float, variance: float, *, rng: np.random.Generator) -> Floats:
    """Draws of what `value`, an estimate with that `variance`, may be an estimate of: df by Satterthwaite."""
    df = 2 * value**2 / variance
    return np.asarray(value * df / stats.chi2.rvs(df, size=DRAWS, random_state=rng), dtype=np.float64)


def _shares(draws: Mapping[str, Floats], measured: float) -> dict[str, tuple[float, float]]:
    """95 % intervals of shares from draws of the variances; the residual one ("") is split by what is measured."""
    total = np.sum(list(draws.values()), axis=0)
    measuring = np.minimum(measured, draws[""])
    parts = {name: values for name, values in draws.items() if name}
    parts |= {BREW: draws[""] - measuring, MEASUREMENT: measuring}
    ends = {name: np.quantile(values / total, [0.025, 0.975]) for name, values in parts.items()}
    return {name: (float(low), float(high)) for name, (low, high) in ends.items()}
