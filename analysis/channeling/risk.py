"""The risk of channeling: how the odds, and the risk at the mean recipe, move with each factor."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import polars as pl
from scipy.special import expit

from analysis.channeling.firth import FirthFit, fit_firth
from analysis.channeling.profile import LogOdds, RiskDifference, likelihood_ratio, profile_interval
from analysis.channeling.resample import Resampled, resample_risk
from analysis.channeling.risk_factors import EVENTS_PER_TERM, choose_factors
from analysis.channeling.risk_rows import Change, risk_rows
from analysis.channeling.seen import NotShown, refuse_one_sided, sound_brews
from analysis.mixed.arrays import NoFit
from schemas.problem import ProblemError

RESAMPLES = 500


@dataclass(frozen=True, slots=True)
class RiskEffect:
    """One change from the mean recipe, with 95 % profile intervals.

    `odds_ratio`; `risk_from_pct` and `risk_to_pct` in percent of brews; `points` is their difference in percent
    points, with ends of None where they could not be found. `p_value` is None where fewer than 5 brews of the rarer
    outcome stand behind each term. `n_brews` are those the term speaks about; `beyond` says that one step reaches
    further than these brews do.
    """

    name: str
    change: str
    odds_ratio: float
    odds_low: float
    odds_high: float
    p_value: float | None
    risk_from_pct: float
    risk_to_pct: float
    points: float
    points_low: float | None
    points_high: float | None
    n_brews: int
    beyond: bool


@dataclass(frozen=True, slots=True)
class ChannelingRisk:
    """Firth's logistic regression of channeling on its factors; `resampled.changes` run beside `effects`."""

    method: str
    effects: tuple[RiskEffect, ...]
    resampled: Resampled | NotShown
    n_brews: int
    n_channeled: int
    n_clean: int
    n_coffees: int
    n_terms: int
    dropped: str
    notes: tuple[str, ...]

    @property
    def events_per_term(self) -> float:
        """Brews of the rarer outcome for each term of the model."""
        return min(self.n_channeled, self.n_clean) / self.n_terms

    @property
    def has_p_values(self) -> bool:
        """False under `EVENTS_PER_TERM`."""
        return self.events_per_term >= EVENTS_PER_TERM


def channeling_risk(
    facts: pl.DataFrame,
    *,
    method: str,
    rng: np.random.Generator,
    factors: Sequence[str] | None = None,
    steps: Mapping[str, float] | None = None,
    resamples: int = RESAMPLES,
) -> ChannelingRisk:
    """Risk of channeling within a method by the factors named, else by those the brews hold; ProblemError says why not.

    `factors` are settings of FACTORS or columns of GROUPS such as operator; `steps` are practical changes by factor.
    """
    looked_at = sound_brews(facts, method=method).filter(pl.col("channeled").is_not_null())
    refuse_one_sided(looked_at, method)
    rows = risk_rows(facts, choose_factors(looked_at, factors), method=method, steps=steps)
    fit = fit_firth(rows.y, rows.x)
    if isinstance(fit, NoFit):
        raise ProblemError(f"No risk of channeling can be shown: {fit.reason}. Leave a factor out, or look at more.")
    terms = len(rows.changes)
    tested = rows.rarer >= EVENTS_PER_TERM * terms
    return ChannelingRisk(
        method=method,
        effects=tuple(_effect(fit, change, tested=tested) for change in rows.changes),
        resampled=resample_risk(rows.brews, rows.y, rows.x, rows.changes, rng=rng, resamples=resamples),
        n_brews=rows.brews.height,
        n_channeled=int(rows.y.sum()),
        n_clean=int(rows.y.size - rows.y.sum()),
        n_coffees=rows.brews["coffee_id"].n_unique(),
        n_terms=terms,
        dropped=rows.dropped,
        notes=rows.notes,
    )


def _effect(fit: FirthFit, change: Change, *, tested: bool) -> RiskEffect:
    ratio = LogOdds(change.to - change.at)
    odds = profile_interval(fit, ratio)
    points = profile_interval(fit, RiskDifference(change.at, change.to))
    if isinstance(odds, NoFit):
        raise ProblemError(
            f"The risk by {change.name} cannot be shown: {odds.reason}. Leave it out, or look at more brews."
        )
    test = likelihood_ratio(fit, ratio) if tested else None
    return RiskEffect(
        name=change.name,
        change=change.said,
        odds_ratio=math.exp(odds.estimate),
        odds_low=math.exp(odds.low),
        odds_high=math.exp(odds.high),
        p_value=None if test is None or isinstance(test, NoFit) else test.p_value,
        risk_from_pct=100 * float(expit(change.at @ fit.estimate)),
        risk_to_pct=100 * float(expit(change.to @ fit.estimate)),
        points=100 * float(expit(change.to @ fit.estimate) - expit(change.at @ fit.estimate)),
        points_low=None if isinstance(points, NoFit) else 100 * points.low,
        points_high=None if isinstance(points, NoFit) else 100 * points.high,
        n_brews=change.n_brews,
        beyond=change.beyond,
    )
