"""The chance of landing: draws spread as their degrees of freedom say, and the mass balance in the joint model."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from analysis.prediction.landing import Joint, chance_inside
from analysis.prediction.models import fit_recipe_models, one
from analysis.prediction.rectangle import normal_inside
from analysis.prediction.request import PredictRequest, Window

WINDOW = Window(19.0, 21.0, 9.0, 10.0)


def _joint(df: float, estimation: float = 1e-12) -> Joint:
    unit = np.array([[[1.0], [0.4]], [[0.4], [0.25]]])
    return Joint(np.array([[20.2], [9.6]]), estimation * unit, unit, np.array([df]), np.array([df]))


def test_known_means_and_spreads_give_the_rectangle_and_hardly_an_interval() -> None:
    found = chance_inside(_joint(1e7), WINDOW, rng=np.random.default_rng(3))
    exact = normal_inside(
        (np.array([20.2]), np.array([9.6])),
        (np.array([1.0]), np.array([0.5])),
        np.array([0.8]),
        ((19.0, 21.0), (9.0, 10.0)),
    )

    assert found.value[0] == pytest.approx(exact[0], abs=1e-3)
    assert found.high[0] - found.low[0] < 3e-3


def test_a_spread_known_from_few_brews_is_that_of_students_t() -> None:
    """Mean over draws of s^2 = df / chi2(df): the predictive of one response is t(df)."""
    found = chance_inside(_joint(6.0), Window(19.0, 21.0), rng=np.random.default_rng(3), draws=40_000)

    assert found.value[0] == pytest.approx(stats.t.cdf(0.8, 6) - stats.t.cdf(-1.2, 6), abs=0.003)


def test_a_mean_known_from_few_brews_is_that_of_students_t() -> None:
    """Scatter next to nothing: what is left is the error of estimation, t(df)."""
    unit = np.array([[[1.0], [0.4]], [[0.4], [0.25]]])
    joint = Joint(np.array([[20.2], [9.6]]), unit, 1e-8 * unit, np.array([6.0]), np.array([6.0]))

    found = chance_inside(joint, Window(19.0, 21.0), rng=np.random.default_rng(3), draws=40_000)

    assert found.value[0] == pytest.approx(stats.t.cdf(0.8, 6) - stats.t.cdf(-1.2, 6), abs=0.01)


def test_the_less_is_known_the_wider_the_interval_of_the_chance() -> None:
    sure, unsure = (chance_inside(_joint(df, 0.1), WINDOW, rng=np.random.default_rng(3)) for df in (60.0, 6.0))

    assert unsure.high[0] - unsure.low[0] > sure.high[0] - sure.low[0]


def test_at_one_ratio_yield_and_strength_are_all_but_one_number(make_recipes) -> None:
    """Percolation: yield = strength x ratio; ratio in the model, so a recipe fixes it."""
    facts = make_recipes()
    models = fit_recipe_models(facts, PredictRequest(coffee="c0"))

    for ratio in (2.0, 2.1, 2.2):
        recipe = {"grind_steps_finer": 0.0, "water_temp_c": 93.0, "beverage_ratio": ratio}
        joint = models.joint(one(recipe))
        assert joint.correlation()[0] > 0.98
        assert joint.value[0][0] == pytest.approx(joint.value[1][0] * ratio, rel=0.01)


def test_without_the_ratio_in_the_model_its_scatter_loosens_the_two(make_recipes) -> None:
    """The same brews: a longer cup yields more and is weaker."""
    facts = make_recipes()
    settings = {"grind_steps_finer": 0.0, "water_temp_c": 93.0}
    models = fit_recipe_models(facts, PredictRequest(coffee="c0", factors=tuple(settings)))

    assert models.joint(one(settings)).correlation()[0] < 0.7


def test_the_ratio_of_every_brew_alike_makes_them_one_number(make_recipes) -> None:
    facts = make_recipes()
    same = facts.with_columns(beverage_ratio=2.0, cup_tds_pct=facts["extraction_yield_pct"] / 2)
    settings = {"grind_steps_finer": 0.0, "water_temp_c": 93.0}
    models = fit_recipe_models(same, PredictRequest(coffee="c0", factors=tuple(settings)))
    joint = models.joint(one(settings))

    assert joint.correlation()[0] == pytest.approx(1, abs=1e-5)
    assert joint.value[0][0] == pytest.approx(2 * joint.value[1][0], rel=1e-9)
    assert joint.scatter[0, 0, 0] == pytest.approx(4 * joint.scatter[1, 1, 0], rel=1e-6)
