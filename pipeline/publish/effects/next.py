"""What is known of each method, gathered for the answer to what to brew next."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
import polars as pl

from analysis.charts.effect_words import SaidEffect
from analysis.diagnostics.report import Diagnosis
from analysis.effects.factors import DIAL, FACTORS
from analysis.next_brews.choose import moved_together, open_effect
from analysis.next_brews.state import WORTH_KNOWING, MethodState, Trial
from analysis.planning.answers import recipes_answer
from analysis.planning.augment import Augmented, augment, brewed_rows
from analysis.planning.factors import SETTABLE, PlanFactor
from analysis.planning.noise import Noise, lab_noise
from analysis.planning.request import PlanRequest
from analysis.prediction.answer import predict_recipe
from analysis.prediction.request import STRENGTH, YIELD, PredictRequest, Window
from analysis.prediction.result import Prediction
from analysis.spread.sources import SpreadSources
from pipeline.publish.effects.moves import SEED, MethodMoves, varied_settings
from pipeline.publish.effects.recipes import most
from schemas.methods import METHODS
from schemas.problem import ProblemError
from schemas.study import Study

RESPONSE = "extraction_yield_pct"
IN_DOUBT = "reading_in_doubt"
LEAST_CHANCE = 0.5
MOST_COFFEES = 2
"""Coffees of one plan: more would spread few brews thin."""


def method_states(
    facts: pl.DataFrame, flags: pl.DataFrame, moves: Sequence[MethodMoves], studies: Sequence[Study]
) -> list[MethodState]:
    """A state per method, in the order of `moves`."""
    doubted = set(flags.filter(pl.col("rule") == IN_DOUBT)["brew_id"].drop_nulls())
    sound = facts.filter(~pl.col("is_void").fill_null(value=False))
    return [_state(sound.filter(pl.col("method") == one.method), doubted, one, studies) for one in moves]


def _state(brews: pl.DataFrame, doubted: set[str], one: MethodMoves, studies: Sequence[Study]) -> MethodState:
    yields = brews.filter(pl.col("extraction_yield_pct").is_not_null())
    sure = yields.filter(pl.col("extraction_yield_u_pct").is_not_null())
    declared = [study.difference_that_matters for study in studies if study.method in (None, one.method)]
    known = [value for value in declared if value is not None]
    difference = known[0] if known else WORTH_KNOWING
    diagnosis = one.diagnosis if isinstance(one.diagnosis, Diagnosis) else None
    trial = _trial(brews, one, difference) if one.result else None
    settings = _settable(one.result.request.factors) if one.result else varied_settings(brews, one.method)
    added = _added(brews, one.method, settings, difference) if moved_together(diagnosis) else None
    return MethodState(
        method=one.method,
        n_brews=brews.height,
        n_yields=yields.height,
        n_sure=sure.height,
        why_unsure=(most(yields.filter(pl.col("extraction_yield_u_pct").is_null())["u_note"]) or "").rstrip("."),
        n_coffees=brews["coffee_id"].n_unique(),
        n_in_doubt=yields.filter(pl.col("brew_id").is_in(list(doubted))).height,
        difference=difference,
        is_declared=bool(known),
        effects=one.result,
        refusal=one.effects.refusal,
        diagnosis=diagnosis,
        measuring=one.spread.measurement_of_brew
        if isinstance(one.spread, SpreadSources) and one.spread.measured.n_brews
        else None,
        added=added,
        trial=trial,
        best=recipe_in_target(brews, one, studies) if one.result and trial is None and added is None else None,
    )


def _trial(brews: pl.DataFrame, one: MethodMoves, difference: float) -> Trial | None:
    """A trial of the setting that is most open; None where none is, or the scatter of like brews is not known."""
    result = one.result
    if result is None:
        return None
    effect = open_effect(result, difference, steps=lambda one: _steps_between(brews, one))
    if effect is None:
        return None
    grinder, mine = _on_its_grinder(brews, effect)
    try:
        factor = _factor(mine, effect.factor.name)
        noise = lab_noise(
            mine, response=result.request.response, method=one.method, settings=_settable(result.request.factors)
        )
        answer = recipes_answer(noise, response=result.request.response, difference=difference)
    except ProblemError:
        return None
    return Trial(effect.row, factor, grinder, answer, noise.brew_sd, noise.interval())


def _on_its_grinder(brews: pl.DataFrame, effect: SaidEffect) -> tuple[str | None, pl.DataFrame]:
    """The grinder that an effect holds on, if it is one grinder's, and the brews it rests on."""
    grinder = str(effect.row["per"]).partition(" on ")[2] or None
    return grinder, brews.filter(pl.col("grinder_id") == grinder) if grinder else brews


def _steps_between(brews: pl.DataFrame, effect: SaidEffect) -> float:
    """Steps that an effect is stated for between the ends of what was brewed; 1 where it was hardly varied."""
    try:
        factor = _factor(_on_its_grinder(brews, effect)[1], effect.factor.name)
    except ProblemError:
        return 1.0
    return (factor.high - factor.low) / float(effect.row["step"])


def _settable(factors: Sequence[str]) -> tuple[str, ...]:
    return tuple(name for name in factors if name in SETTABLE and FACTORS[name].role == "setting")


def _factor(brews: pl.DataFrame, name: str) -> PlanFactor:
    """The setting over the range brewed, both ends on what can be set, odd brews left out."""
    step, values = SETTABLE[name], brews[name].drop_nulls()
    if values.is_empty():
        raise ProblemError(f"{name} is not known of any brew.")
    low, high = (float(values.quantile(q, interpolation="lower") or 0.0) for q in (0.05, 0.95))
    bottom, top = (round(round(end / step) * step, 6) for end in (low, high))
    if top - bottom < step:
        raise ProblemError(f"{name} was hardly varied.")
    return PlanFactor(name, bottom, top, step)


def _added(brews: pl.DataFrame, method: str, names: Sequence[str], difference: float) -> Augmented | None:
    """Further brews that part what moved together, on the coffees brewed most and the grinder used most."""
    mine = brews.filter(pl.col("grinder_id") == most(brews["grinder_id"])) if DIAL in names else brews
    counted = mine["coffee_id"].value_counts().sort("count", "coffee_id", descending=[True, False])
    coffees = tuple(counted["coffee_id"].head(MOST_COFFEES))
    try:
        factors = tuple(_factor(mine, name) for name in names)
        request = PlanRequest(factors, coffees, method, design="optimal", n_runs=2 * len(factors) + 2)
        brewed = brewed_rows(mine, factors, method=method, coffees=coffees)
        return augment(request, brewed, _noise(mine, method, names), rng=_rng(method), difference=difference)
    except ProblemError:
        return None


def _noise(brews: pl.DataFrame, method: str, names: Sequence[str]) -> Noise:
    """The lab's own scatter; where it is not known, one: which runs are chosen does not hang on it."""
    try:
        return lab_noise(brews, response=RESPONSE, method=method, settings=list(names))
    except ProblemError:
        return Noise(1.0)


def recipe_in_target(brews: pl.DataFrame, one: MethodMoves, studies: Sequence[Study]) -> Prediction | None:
    """The recipe that lands most surely in the targets of a study of this method; None where there are none."""
    targets = {
        target.response: (target.low, target.high)
        for study in studies
        if study.method == one.method
        for target in study.targets
        if target.response in (YIELD, STRENGTH)
    }
    if not targets:
        return None
    everything = (-math.inf, math.inf)
    window = Window(*targets.get(YIELD, everything), *targets.get(STRENGTH, everything), "the study's target")
    settings = _settable(one.result.request.factors) if one.result else ()
    grinder = most(brews["grinder_id"]) if DIAL in settings else None
    mine = brews.filter(pl.col("grinder_id") == grinder) if grinder else brews
    request = PredictRequest(
        method=one.method,
        factors=settings,
        coffee=most(mine["coffee_id"]),
        grinder=grinder,
        window=window,
        find=True,
        least_chance=LEAST_CHANCE,
    )
    try:
        return predict_recipe(brews, request, rng=_rng(one.method))
    except ProblemError:
        return None


def _rng(method: str) -> np.random.Generator:
    return np.random.default_rng([SEED, METHODS.index(method), 5])
