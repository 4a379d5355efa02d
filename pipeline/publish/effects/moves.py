"""What moved the extraction of one method: every analysis of it, or the sentence that says why there is none."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import TypeVar

import numpy as np
import polars as pl

from analysis.channeling.report import ChannelingReport, channeling_report
from analysis.channeling.seen import NotShown
from analysis.charts.effects_input import MethodEffects
from analysis.charts.measurement.method_budgets import spread_out
from analysis.diagnostics.report import Diagnosis, diagnose
from analysis.effects.by_method import usual_settings
from analysis.effects.estimate import estimate_effects
from analysis.effects.request import EffectsRequest
from analysis.effects.result import EffectsResult
from analysis.outcomes.mediators import Mediation, outcomes_of, total_and_direct
from analysis.prediction.contours import Contours
from analysis.spread.sources import SpreadSources
from analysis.words import count, listed
from pipeline.answers.refits import Refit, refit, sources_of
from pipeline.measurement.gather import Gathered
from pipeline.publish.effects.recipes import recipe_contours
from schemas.methods import METHODS
from schemas.problem import ProblemError

SEED = 20260104
"""Chosen once: the same brews give the same page, whatever other methods there are."""
REFIT_ABOVE = 1_500
MOST_REFITTED = 1_000
"""Above so many brews of a method, analyses that fit again and again take so many of them, evenly in order of time."""
CHECK_ABOVE, MOST_CHECKED = 600, 400
"""The same for the checks, which fit the whole model anew without each coffee, session and operator."""
RESAMPLES = 200
CURVED = ("grind_steps_finer", "grind_um_finer")
FEWEST_LEVELS = 4
Part = TypeVar("Part")


@dataclass(frozen=True)
class MethodMoves:
    """Everything the page says of one method; a part that cannot be shown says why.

    `effects`: the settings alone, outcomes left out. `curved` lets the grind bend. `sampled` says when analyses that
    fit again and again rest on some of the brews.
    """

    effects: MethodEffects
    result: EffectsResult | None
    diagnosis: Diagnosis | NotShown
    curved: EffectsResult | NotShown
    channeling: ChannelingReport | NotShown
    mediation: Mediation | NotShown
    spread: SpreadSources | NotShown
    contours: Contours | NotShown
    sampled: str

    @property
    def method(self) -> str:
        """Which method."""
        return self.effects.method


def method_moves(found: Gathered, facts: pl.DataFrame, effects: MethodEffects) -> MethodMoves:
    """All analyses of one method on `facts` (FACT_COLUMNS) of a commit."""
    one = effects
    result = one.result if isinstance(one.result, EffectsResult) else None
    brews = facts.filter(pl.col("method") == one.method)
    fewer = spread_out(brews, MOST_REFITTED) if brews.height > REFIT_ABOVE else brews
    checked = spread_out(brews, MOST_CHECKED) if brews.height > CHECK_ABOVE else brews
    channeling = _or_why(
        lambda: channeling_report(fewer, method=one.method, rng=_rng(one.method, 1), resamples=RESAMPLES)
    )
    why = NotShown(one.refusal or "Nothing was compared.")
    if result is None:
        varied = varied_settings(brews, one.method)
        asked = EffectsRequest("extraction_yield_pct", varied, method=one.method)
        checks = _or_why(lambda: diagnose(checked, asked, rng=_rng(one.method, 2))) if varied else why
        sampled = _sampled(brews, fewer, checked)
        return MethodMoves(one, None, checks, why, channeling, why, why, why, sampled)
    request = result.request
    again = _or_why(lambda: refit(fewer, request))
    return MethodMoves(
        effects=one,
        result=result,
        diagnosis=_or_why(lambda: diagnose(checked, request, rng=_rng(one.method, 2))),
        curved=_or_why(lambda: _curved(fewer, request)),
        channeling=channeling,
        mediation=_or_why(lambda: _mediation(fewer, request, one.method)),
        spread=again if isinstance(again, NotShown) else _spread(found, again, one.method),
        contours=_or_why(lambda: recipe_contours(fewer, request, rng=_rng(one.method, 6))),
        sampled=_sampled(brews, fewer, checked),
    )


def varied_settings(brews: pl.DataFrame, method: str) -> tuple[str, ...]:
    """The usual settings that these brews know and vary, whether or not an effect can be worked out."""
    known = brews.filter(~pl.col("is_void").fill_null(value=False), pl.col("extraction_yield_pct").is_not_null())
    settings = usual_settings(known, method)
    return tuple(
        name
        for name in settings
        if known[name].drop_nulls().n_unique() > 1 and 2 * known[name].null_count() <= known.height
    )


def _or_why(part: Callable[[], Part]) -> Part | NotShown:
    try:
        return part()
    except ProblemError as problem:
        return NotShown(str(problem))


def _rng(method: str, part: int) -> np.random.Generator:
    return np.random.default_rng([SEED, METHODS.index(method), part])


def _spread(found: Gathered, again: Refit, method: str) -> SpreadSources | NotShown:
    return _or_why(lambda: sources_of(found, again, rng=_rng(method, 4)))


def _curved(brews: pl.DataFrame, request: EffectsRequest) -> EffectsResult:
    """The model that lets the grind bend, for the place of its top."""
    grinds = [name for name in request.factors if name in CURVED]
    if not grinds:
        raise ProblemError("Grind is not among the settings compared, so nothing is known of its curve.")
    if brews[grinds[0]].drop_nulls().n_unique() < FEWEST_LEVELS:
        raise ProblemError(f"The grind was set to under {FEWEST_LEVELS} levels: a curve needs more of them to show.")
    return estimate_effects(brews, replace(request, curves=(grinds[0],)))


def _mediation(brews: pl.DataFrame, request: EffectsRequest, method: str) -> Mediation:
    outcomes = outcomes_of(brews, method, request.factors)
    if not outcomes:
        raise ProblemError(
            "No outcome of the settings, such as brew time or channeling, is known often enough to tell what goes by "
            "it. Log the brew time, and look at each brew."
        )
    return total_and_direct(brews, request, outcomes, rng=_rng(method, 3))


def _sampled(brews: pl.DataFrame, fewer: pl.DataFrame, checked: pl.DataFrame) -> str:
    """Which analyses rest on some of the brews, with their numbers; empty where all rest on all."""
    n = count(brews.height, "brew")
    parts = [
        ("the checks", checked.height),
        ("channeling, the grind curve, total against direct and the spread", fewer.height),
    ]
    said = [f"{what} on {height:,}" for what, height in parts if height < brews.height]
    if not said:
        return ""
    return f"Of {n}, taken evenly in order of time, rest {listed(said)}; the effects rest on all of them."
