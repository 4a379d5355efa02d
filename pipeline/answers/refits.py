"""The fitted model of a method once more, for where the spread of its brews comes from."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import polars as pl

from analysis.charts.measurement.method_budgets import measured_brews
from analysis.effects.model import Fitted, fit_chosen
from analysis.effects.request import EffectsRequest
from analysis.effects.rows import choose_rows
from analysis.measurement.budget import brew_budget
from analysis.mixed.model import MixedFit, fit_mixed_model
from analysis.spread.measured import MeasuredSpread, measured_spread
from analysis.spread.sources import SpreadSources, spread_sources
from pipeline.measurement.gather import Gathered
from schemas.problem import ProblemError

MOST_BUDGETS = 400
"""Brews whose budgets are worked out; of more, so many taken evenly."""


@dataclass(frozen=True)
class Refit:
    """The model of a method with the brews it rests on."""

    brews: pl.DataFrame
    fitted: Fitted


def refit(facts: pl.DataFrame, request: EffectsRequest) -> Refit:
    """The model that stands behind an effects table; ProblemError as there."""
    chosen = choose_rows(facts, request)
    return Refit(chosen.brews, fit_chosen(chosen, request))


def sources_of(found: Gathered, one: Refit, *, rng: np.random.Generator) -> SpreadSources:
    """Where the spread of these brews comes from, measuring by the budgets of the same brews."""
    fit = one.fitted.fit.satterthwaite or fit_mixed_model(one.fitted.y, one.fitted.x, ())
    if not isinstance(fit, MixedFit):
        raise ProblemError(f"The spread of these brews cannot be split: {fit.reason}.")
    slopes = frozenset(one.fitted.structure.slopes.values())
    return spread_sources(fit, _measured(found, one, slopes), slopes=slopes, rng=rng)


def _measured(found: Gathered, one: Refit, slopes: frozenset[str]) -> MeasuredSpread:
    levels = [part.codes for part in one.fitted.parts if part.name not in slopes]
    together = np.column_stack([np.zeros(one.brews.height, dtype=np.int64), *levels])
    groups = np.unique(together, axis=0, return_inverse=True)[1].ravel()
    rows = one.brews.select("brew_id").join(found.brews, on="brew_id", how="left", maintain_order="left")
    budgets, kept = [], []
    for k in range(0, rows.height, max(1, -(-rows.height // MOST_BUDGETS))):
        for measured in measured_brews(rows[k], found.groups, found.settings):
            budgets.append(brew_budget(measured))
            kept.append(int(groups[k]))
    return measured_spread(budgets, np.array(kept, dtype=np.int64))
