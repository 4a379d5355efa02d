"""Both models of one set of brews, ready to be asked at any recipe inside their region."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
import polars as pl

from analysis.effects.request import EffectsRequest
from analysis.effects.rows import ChosenRows
from analysis.effects.structure import ENOUGH_COFFEES
from analysis.mixed.arrays import Floats
from analysis.prediction.landing import Joint, join
from analysis.prediction.model import Linear, ResponseModel, fit_response, predict
from analysis.prediction.place import coffee_level, design_rows
from analysis.prediction.region import Region, brewed_region
from analysis.prediction.request import RESPONSES, PredictRequest
from analysis.prediction.rows import effects_request, prediction_rows, settle_coffee, settle_grinder
from analysis.prediction.tied import Tied, tie
from analysis.words import count
from schemas.problem import ProblemError


@dataclass(frozen=True)
class RecipeModels:
    """Yield and strength as functions of a recipe, for one coffee of the log or a new one.

    `models` in the order of RESPONSES; `tied` how they hang together; `region` the settings brewed; `coffee` is None
    for a new one; `grinder` says whose dial counts, None where only one is in play.
    """

    asked: EffectsRequest
    chosen: ChosenRows
    models: tuple[ResponseModel, ResponseModel]
    tied: Tied
    region: Region
    coffee: str | None
    grinder: str | None

    @property
    def brews(self) -> pl.DataFrame:
        """The complete brews that all rests on."""
        return self.chosen.brews

    def lines(self, settings: Mapping[str, Floats]) -> tuple[Linear, Linear]:
        """Both predictions at `settings`, (m,) by factor."""
        level = coffee_level(self.brews, self.coffee)
        rows = design_rows(self.models[0].design, self.brews, settings, self.grinder)
        first, second = (predict(model, model.places(rows, level)) for model in self.models)
        return first, second

    def joint(self, settings: Mapping[str, Floats]) -> Joint:
        """Yield and strength together at `settings`, (m,) by factor."""
        return join(self.models, self.lines(settings), self.tied)


def fit_recipe_models(
    facts: pl.DataFrame,
    request: PredictRequest,
    *,
    whole_plot: tuple[str, ...] = (),
    blocks: tuple[str, ...] = (),
) -> RecipeModels:
    """Choose brews, coffee and grinder, and fit both responses; ProblemError says why when that cannot be done."""
    asked = effects_request(facts, request)
    chosen = prediction_rows(facts, asked)
    coffee = settle_coffee(chosen.brews, request)
    grinder = settle_grinder(chosen, request, asked.factors)
    coffees = chosen.brews["coffee_id"].n_unique()
    if coffee is None and coffees < ENOUGH_COFFEES:
        raise ProblemError(
            f"{count(coffees, 'coffee')} cannot tell how far another one would differ: at least {ENOUGH_COFFEES} are "
            "needed to predict for a new coffee. Name one of the log with --coffee, or brew more coffees."
        )
    first, second = (
        fit_response(chosen, replace(asked, response=name), whole_plot=whole_plot, blocks=blocks) for name in RESPONSES
    )
    return RecipeModels(
        asked,
        chosen,
        (first, second),
        tie(first, second),
        brewed_region(chosen, asked.factors, grinder),
        coffee,
        grinder,
    )


def one(settings: Mapping[str, float]) -> dict[str, Floats]:
    """A single recipe as arrays (1,)."""
    return {name: np.array([float(value)]) for name, value in settings.items()}
