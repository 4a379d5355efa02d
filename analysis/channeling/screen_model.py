"""What a recipe predicts: the columns of the screen's model, coffee levels and whatever of the recipe varies."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import polars as pl

from analysis.channeling.risk_factors import HELD_SHARE
from analysis.channeling.seen import YieldColumn
from analysis.effects.design import build_design
from analysis.effects.factors import DIAL, FACTORS
from analysis.effects.request import EffectsRequest
from analysis.mixed.arrays import Floats
from analysis.words import listed
from schemas.methods import BALANCE_OF_METHOD

RECIPE = (DIAL, "dose_g", "water_temp_c", "pressure_bar", "preinfusion_s", "days_off_roast")
BREWS_PER_COLUMN = 5
CURVE_SETTINGS = 4


@dataclass(frozen=True)
class ScreenModel:
    """Complete unflagged `brews` (n rows), `x` (n, k) with redundant columns allowed, and its words."""

    brews: pl.DataFrame
    x: Floats
    said: str
    n_incomplete: int


def screen_model(unflagged: pl.DataFrame, *, result: YieldColumn) -> ScreenModel:
    """Coffee levels, then recipe factors in order of weight while there are 5 brews for every column.

    A factor that fewer than 4 in 5 brews have stays out; brews that lack one that is in are not judged.
    """
    known = unflagged.filter(pl.col(result).is_not_null() & pl.col("coffee_id").is_not_null())
    names = _names(known)
    needed = [*names, *(["grinder_id"] if DIAL in names else [])]
    brews = known.filter(pl.all_horizontal(pl.col(name).is_not_null() for name in needed)) if needed else known
    if brews.is_empty():
        return ScreenModel(brews, np.zeros((0, 0)), "the coffee", unflagged.height)
    names = [name for name in names if brews[name].n_unique() > 1]
    curved = DIAL in names and _bends(brews)
    room = brews.height // BREWS_PER_COLUMN - brews["coffee_id"].n_unique()
    kept = names[: max(room - (1 if curved else 0), 0)]
    curved = curved and DIAL in kept
    grinders = tuple(sorted(brews["grinder_id"].unique())) if DIAL in kept else ()
    method = str(brews["method"][0])
    request = EffectsRequest(result, tuple(kept), method=method, curves=(DIAL,) if curved else ())
    design = build_design(brews, request, grinders if len(grinders) > 1 else ())
    coffees = brews["coffee_id"].rank("dense").cast(pl.Int64).to_numpy() - 1
    levels = (coffees[:, None] == np.arange(coffees.max() + 1)).astype(np.float64)
    said = listed(["the coffee", *(_noun(name, curved=curved) for name in kept)])
    return ScreenModel(brews, np.column_stack([design.x, levels]), said, unflagged.height - brews.height)


def _names(known: pl.DataFrame) -> list[str]:
    """Recipe factors that most brews have and that vary, the ratio of the method's liquid after the grind."""
    if known.is_empty():
        return []
    balances = known["balance_used"].drop_nulls()
    balance = balances[0] if len(balances) else BALANCE_OF_METHOD.get(str(known["method"][0]), "percolation")
    ratio = "water_ratio" if balance == "immersion" else "beverage_ratio"
    candidates = (DIAL, ratio, *RECIPE[1:])
    return [
        name
        for name in candidates
        if known.height - known[name].null_count() >= HELD_SHARE * known.height and known[name].n_unique() > 1
    ]


def _bends(brews: pl.DataFrame) -> bool:
    """True where every dial was read at enough settings to tell a bend: the grind curve has a top."""
    counts = brews.group_by("grinder_id").agg(pl.col(DIAL).n_unique())[DIAL].to_list()
    return int(min(counts)) >= CURVE_SETTINGS


def _noun(name: str, *, curved: bool) -> str:
    noun = FACTORS[name].noun
    return f"{noun} with a bend" if name == DIAL and curved else noun
