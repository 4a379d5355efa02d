"""The effects on yield of every method, with the factors that its brews can speak about."""

from __future__ import annotations

from dataclasses import replace

import polars as pl

from analysis.charts.effects_input import MethodEffects
from analysis.effects.estimate import estimate_effects
from analysis.effects.request import EffectsRequest
from analysis.outcomes.of_effects import Measuring
from schemas.methods import BALANCE_OF_METHOD, METHODS
from schemas.problem import ProblemError

RESPONSE = "extraction_yield_pct"
SETTINGS = ("grind_steps_finer", "water_temp_c")
RATIO = {"percolation": "beverage_ratio", "immersion": "water_ratio"}
ENOUGH_KNOWN = 0.5
"""A factor known in fewer than this share of the brews would cost more brews than it explains."""


def effects_by_method(facts: pl.DataFrame, *, measuring: Measuring | None = None) -> list[MethodEffects]:
    """One analysis of the extraction yield per method that `facts` (FACT_COLUMNS) hold, or why there is none.

    Results of the settings, such as channeling and brew time, are no factors: a change of grind acts through them too.
    """
    present = set(facts["method"].drop_nulls())
    return [
        _method_effects(facts.filter(pl.col("method") == method), method, measuring)
        for method in METHODS
        if method in present
    ]


def usual_settings(brews: pl.DataFrame, method: str) -> tuple[str, ...]:
    """The settings that a method's main model asks about: grind, temperature, and the ratio of its mass balance.

    The ratio as a run sheet planned it where enough brews have one, since the ratio as weighed shares its weighing
    errors with the yield.
    """
    ratio = RATIO.get(BALANCE_OF_METHOD.get(method, ""), "beverage_ratio")
    planned = f"planned_{ratio}"
    return (*SETTINGS, ratio if _why_silent(brews[planned]) else planned)


def _method_effects(brews: pl.DataFrame, method: str, measuring: Measuring | None) -> MethodEffects:
    usable = brews.filter(~pl.col("is_void").fill_null(value=False) & pl.col(RESPONSE).is_not_null())
    if usable.is_empty():
        return MethodEffects(method, refusal=_no_yield(brews.height))
    candidates = usual_settings(usable, method)
    silent = {name: why for name in candidates if (why := _why_silent(usable[name]))}
    factors = tuple(name for name in candidates if name not in silent)
    left_out = [f"{name} is not in the model: {why}" for name, why in silent.items()]
    if not factors:
        return MethodEffects(method, refusal=" ".join(left_out))
    try:
        result = estimate_effects(brews, EffectsRequest(RESPONSE, factors, method=method), measuring=measuring)
    except ProblemError as problem:
        return MethodEffects(method, refusal=str(problem))
    return MethodEffects(method, replace(result, notes=(*result.notes, *left_out)))


def _no_yield(n_brews: int) -> str:
    return (
        "Its one brew has no extraction yield."
        if n_brews == 1
        else f"None of its {n_brews} brews has an extraction yield."
    )


def _why_silent(values: pl.Series) -> str:
    """Why these brews say nothing of a factor; empty when they do."""
    known = values.drop_nulls()
    if known.len() < ENOUGH_KNOWN * values.len():
        return f"it is known for {known.len()} of {values.len()} brews."
    if known.n_unique() == 1:
        return f"it is the same in all {known.len()} brews."
    if known.len() > 2 and known.value_counts()["count"].max() == known.len() - 1:
        return f"it is the same in all but one of {known.len()} brews, and one brew settles nothing."
    return ""
