"""Which brews a prediction rests on, and which factors its model holds where none are named."""

from __future__ import annotations

from dataclasses import replace

import polars as pl

from analysis.effects.factors import DIAL, FACTORS
from analysis.effects.request import EffectsRequest, check_request
from analysis.effects.rows import ChosenRows, choose_rows
from analysis.known_names import check_known
from analysis.prediction.request import STRENGTH, YIELD, PredictRequest
from analysis.words import count, listed
from schemas.methods import BALANCE_OF_METHOD
from schemas.problem import ProblemError

GRINDS = (DIAL, "grind_um_finer")
RATIO = {"percolation": "beverage_ratio", "immersion": "water_ratio"}
MOSTLY = 0.8
"""A usual factor is taken where this share of the brews knows it."""


def effects_request(facts: pl.DataFrame, request: PredictRequest) -> EffectsRequest:
    """The question of the yield model; the strength model asks the same of the cup's strength."""
    asked = EffectsRequest(
        response=YIELD,
        factors=request.factors or _usual_factors(facts, request),
        method=request.method,
        curves=request.curves,
        crosses=request.crosses,
    )
    check_request(asked)
    if STRENGTH in asked.factors:
        raise ProblemError(f"{STRENGTH} is predicted, so it cannot be a factor.")
    return asked


def _usual_factors(facts: pl.DataFrame, request: PredictRequest) -> tuple[str, ...]:
    """Factors named anywhere in the request, then grind, temperature and ratio where they were known and varied."""
    sound = _asked(facts, request)
    named = [*request.settings, *request.curves, *(one for pair in request.crosses for one in pair.split(":"))]
    methods = sound["method"].unique().to_list()
    ratio = RATIO.get(BALANCE_OF_METHOD.get(methods[0], ""), "beverage_ratio") if len(methods) == 1 else ""
    usual = [name for name in (DIAL, "water_temp_c", ratio) if name and _varied(sound, name)]
    if any(name in GRINDS for name in named):
        usual = [name for name in usual if name not in GRINDS]
    factors = tuple(name for name in dict.fromkeys([*named, *usual]) if name)
    if not factors:
        raise ProblemError("Neither grind, temperature nor ratio was varied in these brews: name a factor with --at.")
    return factors


def _asked(facts: pl.DataFrame, request: PredictRequest) -> pl.DataFrame:
    sound = facts.filter(~pl.col("is_void").fill_null(value=False), pl.col(YIELD).is_not_null())
    return sound if request.method is None else sound.filter(pl.col("method") == request.method)


def _varied(sound: pl.DataFrame, name: str) -> bool:
    known = sound[name].drop_nulls()
    return known.n_unique() > 1 and known.len() >= MOSTLY * sound.height


def prediction_rows(facts: pl.DataFrame, asked: EffectsRequest) -> ChosenRows:
    """The complete brews with yield and strength, each left out counted by its reason."""
    chosen = choose_rows(facts, asked)
    whole = chosen.brews.filter(pl.col(STRENGTH).is_not_null() & pl.col(STRENGTH).is_finite())
    n = chosen.brews.height - whole.height
    if whole.is_empty():
        raise ProblemError(
            f"{STRENGTH} is missing from all of {count(n, 'complete brew')}, so nothing can be said of strength. Read "
            "it for some brews."
        )
    left_out = chosen.left_out | ({f"without {STRENGTH}": n} if n else {})
    return replace(chosen, brews=whole, n_left_out=chosen.n_left_out + n, left_out=left_out)


def settle_coffee(brews: pl.DataFrame, request: PredictRequest) -> str | None:
    """The coffee that is predicted for, None for a new one; ProblemError where that is not said or cannot be told."""
    names = sorted(brews["coffee_id"].unique())
    if request.coffee is not None:
        check_known("coffee of these brews", request.coffee, names)
        return request.coffee
    if request.new_coffee:
        return None
    if len(names) == 1:
        return str(names[0])
    raise ProblemError(
        f"These brews are of {count(len(names), 'coffee')}, {listed(names[:8])}{' ...' if len(names) > 8 else ''}: say "
        "which with --coffee, or --new-coffee for one that was never brewed."
    )


def settle_grinder(chosen: ChosenRows, request: PredictRequest, factors: tuple[str, ...]) -> str | None:
    """Whose dial is meant, None where only one is in play; ProblemError where several are and none is named."""
    if not chosen.grinders:
        there = sorted(chosen.brews["grinder_id"].drop_nulls().unique())
        if request.grinder is not None and DIAL in factors:
            check_known("grinder of these brews", request.grinder, there)
        elif request.grinder is not None:
            raise ProblemError(f"The grinder only matters where {DIAL} is a factor; leave --grinder out.")
        return None
    if request.grinder is None:
        raise ProblemError(
            f"{listed(chosen.grinders)} each have a slope of their own, since a step of one dial is not a step of "
            f"another: say which with --grinder, or use grind_um_finer."
        )
    check_known("grinder of these brews", request.grinder, chosen.grinders)
    return request.grinder


def setting_words(name: str, value: float) -> str:
    """One setting in words.

    >>> setting_words("water_temp_c", 94), setting_words("grind_steps_finer", -1.5), setting_words("channeled", 0)
    ('water temperature 94 C', 'grind 1.5 steps coarser', 'channeling no')
    """
    factor = FACTORS[name]
    if factor.is_yes_no:
        return f"{factor.noun} {'yes' if value else 'no'}"
    shown = f"{round(abs(value) if name in GRINDS else value, 2):g}"
    amount = factor.per(float(shown))
    if name in GRINDS:
        return f"{factor.noun} {'at its reference' if float(shown) == 0 else f'{amount} {_way(value)}'}"
    return f"{factor.noun} {amount}"


def _way(steps_finer: float) -> str:
    return "finer" if steps_finer > 0 else "coarser"
