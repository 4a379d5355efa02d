"""From brew facts to what a recipe is expected to give."""

from __future__ import annotations

import numpy as np
import polars as pl

from analysis.prediction.cautions import make_cautions, model_said, scope_said
from analysis.prediction.landing import Joint, chance_inside, join
from analysis.prediction.model import Linear, ResponseModel, of_brew, of_mean
from analysis.prediction.models import RecipeModels, fit_recipe_models, one
from analysis.prediction.place import means
from analysis.prediction.region import check_inside
from analysis.prediction.request import PredictRequest, Window, check_predict_request
from analysis.prediction.result import Expected, Found, Landing, Prediction
from analysis.prediction.search import find_settings
from schemas.problem import ProblemError


def predict_recipe(
    facts: pl.DataFrame,
    request: PredictRequest,
    *,
    rng: np.random.Generator,
    whole_plot: tuple[str, ...] = (),
    blocks: tuple[str, ...] = (),
) -> Prediction:
    """What `request` asks of `facts` (FACT_COLUMNS); ProblemError says why when that cannot be answered.

    `rng` draws what was estimated, for the chance of landing; `whole_plot` and `blocks` as for the effects.
    """
    check_predict_request(request)
    if request.find and (request.window is None or not request.window.bounded):
        raise ProblemError(
            "Where should a brew land? Give the window with --yield LOW:HIGH and --strength LOW:HIGH, or declare "
            "targets."
        )
    models = fit_recipe_models(facts, request, whole_plot=whole_plot, blocks=blocks)
    return answer(models, request, rng=rng)


def answer(models: RecipeModels, request: PredictRequest, *, rng: np.random.Generator) -> Prediction:
    """The answer of fitted models: at the settings asked for, or at the best that were found."""
    window = request.window if request.window is not None and request.window.bounded else None
    found = None
    held: tuple[str, ...] = ()
    if request.find and window is not None:
        found = find_settings(models, request.settings, window, least_chance=request.least_chance, rng=rng)
        settings = {name: float(found.best[name][0]) for name in models.region.factors}
    else:
        settings, held = _settings(models, request)
    check_inside(models.region, settings)
    return _at(models, request, settings, held, window, found, rng)


def _settings(models: RecipeModels, request: PredictRequest) -> tuple[dict[str, float], tuple[str, ...]]:
    """All factors: as asked, else at the mean of the brews; and which are so held."""
    factors = models.region.factors
    for name in request.settings:
        if name not in factors:
            raise ProblemError(f"{name} is not in the model, whose factors are {', '.join(factors)}.")
    middle = means(models.brews, factors, models.grinder)
    held = tuple(name for name in factors if name not in request.settings)
    return {name: float(request.settings.get(name, middle[name])) for name in factors}, held


def _at(
    models: RecipeModels,
    request: PredictRequest,
    settings: dict[str, float],
    held: tuple[str, ...],
    window: Window | None,
    found: Found | None,
    rng: np.random.Generator,
) -> Prediction:
    lines = models.lines(one(settings))
    first, second = (expected(model, line) for model, line in zip(models.models, lines, strict=True))
    joint = join(models.models, lines, models.tied)
    brews = models.brews
    return Prediction(
        request=request,
        method=models.chosen.method,
        coffee=models.coffee,
        grinder=models.grinder,
        settings=settings,
        held=held,
        expected=(first, second),
        correlation=float(joint.correlation()[0]),
        landing=None if window is None else _landing(joint, window, found, rng),
        found=found,
        scope=scope_said(models),
        n_brews=brews.height,
        n_coffees=brews["coffee_id"].n_unique(),
        n_brews_coffee=brews.filter(pl.col("coffee_id") == models.coffee).height if models.coffee is not None else 0,
        model=model_said(models),
        left_out=models.chosen.dropped,
        notes=make_cautions(models, settings, (first, second)),
    )


def _landing(joint: Joint, window: Window, found: Found | None, rng: np.random.Generator) -> Landing:
    """The chance at the one recipe of `joint`: as the search told it, where the recipe came from there."""
    if found is not None:
        best = found.best.row(0, named=True)
        return Landing(window, best["chance"], best["chance_low"], best["chance_high"])
    chance = chance_inside(joint, window, rng=rng)
    return Landing(window, float(chance.value[0]), float(chance.low[0]), float(chance.high[0]))


def expected(model: ResponseModel, line: Linear) -> Expected:
    """The first recipe of `line`: mean and one brew with their 95 % intervals."""
    mean, brew = of_mean(model, line), of_brew(model, line)
    value, half = float(line.value[0]), float(mean.half_width()[0])
    # With few coffees the mean's own df can be so much fewer that its interval would come out the wider of the two.
    reach = max(float(brew.half_width()[0]), half)
    return Expected(
        response=model.response,
        value=value,
        std_error=float(np.sqrt(mean.variance[0])),
        df=float(mean.df[0]),
        low=value - half,
        high=value + half,
        brew_sd=float(np.sqrt(brew.variance[0])),
        brew_df=float(brew.df[0]),
        brew_low=value - reach,
        brew_high=value + reach,
    )
