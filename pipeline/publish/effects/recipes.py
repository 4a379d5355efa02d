"""What is expected over two settings of a method, for the coffee brewed most."""

from __future__ import annotations

import numpy as np
import polars as pl

from analysis.effects.factors import DIAL, FACTORS
from analysis.effects.request import EffectsRequest
from analysis.prediction.contours import Contours, make_contours
from analysis.prediction.models import fit_recipe_models
from analysis.prediction.place import means
from analysis.prediction.request import PredictRequest
from schemas.problem import ProblemError

SIDE = 14
"""Cells along each setting: enough to see which way it goes, few enough for a page of many methods."""


def recipe_contours(brews: pl.DataFrame, request: EffectsRequest, *, rng: np.random.Generator) -> Contours:
    """Yield and strength over the first two settings, the others at their means; ProblemError says why not."""
    settings = [name for name in request.factors if FACTORS[name].role == "setting" and not FACTORS[name].is_yes_no]
    if len(settings) < 2:
        raise ProblemError("It takes two settings that were varied to draw one against the other.")
    sound = brews.filter(~pl.col("is_void").fill_null(value=False), pl.col(request.response).is_not_null())
    grinder = most(sound["grinder_id"]) if DIAL in settings else None
    mine = sound.filter(pl.col("grinder_id") == grinder) if grinder else sound
    asked = PredictRequest(
        factors=tuple(settings), method=request.method, coffee=most(mine["coffee_id"]), grinder=grinder
    )
    models = fit_recipe_models(brews, asked)
    held = means(models.brews, models.region.factors, models.grinder)
    return make_contours(models, settings[0], settings[1], held, rng=rng, side=SIDE)


def most(values: pl.Series) -> str | None:
    """The value that comes most often, the first in order among equals; None without any."""
    counted = values.drop_nulls().value_counts().sort("count", values.name, descending=[True, False])
    return str(counted[values.name][0]) if counted.height else None
