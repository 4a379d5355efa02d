"""Predictions against R: predict.lm, and Henderson's equations on lme4's variances (tests/reference/prediction)."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np
import polars as pl
import pytest

from analysis.effects.design import Design, build_design
from analysis.effects.request import EffectsRequest
from analysis.mixed.fit import MixedFit
from analysis.mixed.model import RandomPart, fit_mixed_model
from analysis.prediction.answer import expected, predict_recipe
from analysis.prediction.model import ResponseModel, of_brew, of_mean, predict
from analysis.prediction.place import design_rows
from analysis.prediction.request import PredictRequest
from analysis.prediction.tied import tie
from tests.reference.prediction.coverage import facts_of

HERE = Path(__file__).parents[2] / "reference" / "prediction"
EXPECTED = pl.read_csv(HERE / "expected.csv")
YIELD, STRENGTH = "extraction_yield_pct", "cup_tds_pct"


def _r(case: str, recipe: int, quantity: str) -> float:
    return float(EXPECTED.filter(case=case, recipe=recipe, quantity=quantity)["value"].item())


@pytest.mark.parametrize(("recipe", "grind", "temp"), [(1, 0, 93), (2, 1, 93.5), (3, -1.25, 92.75)])
def test_one_coffee_is_predicted_as_by_predict_lm(recipe: int, grind: float, temp: float) -> None:
    brews = pl.read_csv(HERE / "lm.csv")
    given = {
        "coffee_id": ["c1"] * brews.height,
        "grind_steps_finer": brews["grind"].to_list(),
        "water_temp_c": brews["temp"].to_list(),
        YIELD: brews["yield"].to_list(),
        STRENGTH: brews["strength"].to_list(),
    }
    request = PredictRequest({"grind_steps_finer": grind, "water_temp_c": temp}, curves=("grind_steps_finer",))

    found = predict_recipe(facts_of(given, brews.height), request, rng=np.random.default_rng(1))

    for word, one in zip(("yield", "strength"), found.expected, strict=True):
        assert one.value == pytest.approx(_r("lm", recipe, f"{word} confidence fit"), rel=1e-8)
        assert one.low == pytest.approx(_r("lm", recipe, f"{word} confidence low"), rel=1e-8)
        assert one.high == pytest.approx(_r("lm", recipe, f"{word} confidence high"), rel=1e-8)
        assert one.brew_low == pytest.approx(_r("lm", recipe, f"{word} prediction low"), rel=1e-8)
        assert one.brew_high == pytest.approx(_r("lm", recipe, f"{word} prediction high"), rel=1e-8)


@dataclass(frozen=True)
class OfR:
    """R's model, fitted here."""

    facts: pl.DataFrame
    design: Design
    model: ResponseModel


@pytest.fixture(scope="module")
def mixed() -> OfR:
    brews = pl.read_csv(HERE / "mixed.csv")
    given = {
        "coffee_id": [f"c{k}" for k in brews["coffee"]],
        "grind_steps_finer": brews["grind"].to_list(),
        "water_temp_c": brews["temp"].to_list(),
        YIELD: brews["yield"].to_list(),
    }
    facts = facts_of(given, brews.height)
    design = build_design(facts, EffectsRequest(YIELD, ("grind_steps_finer", "water_temp_c")), ())
    coffee, session = brews["coffee"].to_numpy() - 1, brews["session"].to_numpy() - 1
    ones = np.ones(brews.height)
    parts = (
        RandomPart("coffee", coffee, ones),
        RandomPart("grind_steps_finer by coffee", coffee, design.x[:, 0]),
        RandomPart("session", session, ones),
    )
    return OfR(facts, design, _model(brews["yield"].to_numpy(), design, parts, {0: "grind_steps_finer by coffee"}))


def _model(y: np.ndarray, design: Design, parts: tuple[RandomPart, ...], slopes: dict[int, str]) -> ResponseModel:
    fit = fit_mixed_model(y, design.x, parts)
    assert isinstance(fit, MixedFit)
    return ResponseModel(YIELD, y, design.x, parts, slopes, fit, design)


def test_variances_are_those_of_lme4(mixed: OfR) -> None:
    fit = mixed.model.fit
    found = {"residual": fit.sigma**2, **fit.components}
    for name, word in (
        ("residual", "residual"),
        ("coffee", "coffee"),
        ("grind_steps_finer by coffee", "slope"),
        ("session", "session"),
    ):
        assert found[name] == pytest.approx(_r("mixed", 0, f"variance {word}"), rel=1e-5)


@pytest.mark.parametrize(
    ("recipe", "level", "grind", "temp"), [(1, 0, 1, 94), (2, 4, -0.5, 93), (3, None, 1, 94), (4, None, 0, 93)]
)
def test_value_error_variance_and_df_are_those_of_hendersons_equations(
    mixed: OfR, recipe: int, level: int | None, grind: float, temp: float
) -> None:
    settings = {"grind_steps_finer": np.array([grind]), "water_temp_c": np.array([temp])}
    model = mixed.model
    line = predict(model, model.places(design_rows(mixed.design, mixed.facts, settings, None), level))

    assert line.value[0] == pytest.approx(_r("mixed", recipe, "value"), rel=1e-6)
    for word, spread in (("mean", of_mean(model, line)), ("brew", of_brew(model, line))):
        assert spread.variance[0] == pytest.approx(_r("mixed", recipe, f"{word} variance"), rel=1e-5)
        assert spread.df[0] == pytest.approx(_r("mixed", recipe, f"{word} df"), rel=1e-4)
    if level is not None:
        assert line.value[0] == pytest.approx(_r("mixed", recipe, "lme4 value"), rel=1e-6)
    told = expected(model, line)
    assert told.low < told.value < told.high


def test_covariances_of_yield_and_strength_are_those_of_both_fitted_at_once() -> None:
    brews = pl.read_csv(HERE / "both.csv")
    grind = brews["grind"].cast(pl.Float64).to_list()
    facts = facts_of({"grind_steps_finer": grind}, brews.height)
    design = build_design(facts, EffectsRequest(YIELD, ("grind_steps_finer",)), ())
    parts = (RandomPart("coffee", brews["coffee"].to_numpy() - 1, np.ones(brews.height)),)
    first, second = (_model(brews[name].to_numpy(), design, parts, {}) for name in ("yield", "strength"))

    tied = tie(first, second)

    assert first.fit.components["coffee"] == pytest.approx(_r("both", 0, "coffee yield"), rel=1e-4)
    assert second.fit.components["coffee"] == pytest.approx(_r("both", 0, "coffee strength"), rel=1e-4)
    assert tied.parts["coffee"] == pytest.approx(_r("both", 0, "coffee both"), rel=1e-4)
    assert tied.residual == pytest.approx(_r("both", 0, "brew both"), rel=1e-4)
    assert tied.pulled == ()
