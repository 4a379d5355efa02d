"""Channeled against clean at the same recipe: against least squares with a level for each recipe, and known truth."""

import numpy as np
import polars as pl
import pytest

from analysis.channeling.matched import matched_effect
from schemas.problem import ProblemError


def effect_of(facts, **more):
    return matched_effect(facts, method="espresso", **more)


def named(make_facts, recipes, channeled, yields, **more):
    return make_facts(len(recipes), recipe_id=recipes, channeled=channeled, extraction_yield_pct=yields, **more)


RECIPES = ["r1"] * 5 + ["r2"] * 5 + ["r3"] * 2
SEEN = [True, False, False, False, False, True, True, True, False, False, False, False]
YIELDS = [17.0, 19.1, 19.3, 18.9, 19.2, 18.0, 18.4, 17.9, 20.0, 20.3, 21.0, 21.4]


def test_the_difference_is_the_weighted_mean_of_differences_inside_recipes(make_facts):
    """By hand: r1 17 - 19.125 = -2.125, weight 1 * 4 / 5; r2 18.1 - 20.15 = -2.05, weight 3 * 2 / 5; r3 has no pair."""
    effect = effect_of(named(make_facts, RECIPES, SEEN, YIELDS))

    by_hand = (0.8 * -2.125 + 1.2 * -2.05) / 2.0
    assert effect.difference == pytest.approx(by_hand)
    assert effect.plain_difference == pytest.approx(by_hand)
    assert (effect.n_recipes, effect.n_channeled, effect.n_clean, effect.n_unmatched) == (2, 4, 6, 2)
    assert effect.rules == ("the same recipe_id",)


def test_interval_and_df_are_those_of_statsmodels(make_facts):
    import statsmodels.api as sm

    effect = effect_of(named(make_facts, RECIPES, SEEN, YIELDS))
    x = np.column_stack([SEEN[:10], [1.0] * 5 + [0.0] * 5, [0.0] * 5 + [1.0] * 5]).astype(float)
    fit = sm.OLS(np.array(YIELDS[:10]), x).fit()

    low, high = fit.conf_int()[0]
    assert (effect.low, effect.high) == pytest.approx((low, high))
    assert effect.std_error == pytest.approx(fit.bse[0])
    assert effect.p_value == pytest.approx(fit.pvalues[0])
    assert effect.df == pytest.approx(7)


def test_settings_stand_in_for_recipe_ids(make_facts):
    facts = named(
        make_facts,
        [None] * 10,
        SEEN[:10],
        YIELDS[:10],
        grind_setting=["10"] * 5 + ["11"] * 5,
        dose_g=[18.0, 18.1, 17.9, 18.0, 18.2, 18.0, 18.1, 18.0, 17.9, 18.0],
        beverage_ratio=[2.0] * 10,
    )

    effect = effect_of(facts)

    assert effect.n_recipes == 2
    assert effect.rules == (
        "the same coffee, method, grinder and dial setting, doses within 0.3 g and ratios within 5 %",
    )


def test_sessions_that_differ_are_taken_out(make_facts):
    """Sessions shift yields by up to 3 points; with a level for each the scatter left is the noise of 0.1."""
    rng = np.random.default_rng(4)
    n = 80
    session, recipe = np.arange(n) % 8, np.arange(n) % 5
    seen = rng.random(n) < 0.3
    shift = np.array([-3, -2, -1, 0, 0, 1, 2, 3.0])
    facts = named(
        make_facts,
        [f"r{k}" for k in recipe],
        [bool(k) for k in seen],
        20 + shift[session] + 0.2 * recipe - 1.5 * seen + rng.normal(scale=0.1, size=n),
        session_id=[f"s{k}" for k in session],
    )

    effect = effect_of(facts)
    without = effect_of(facts.with_columns(session_id=pl.lit(None, pl.String)))

    assert effect.with_sessions
    assert not without.with_sessions
    assert effect.difference == pytest.approx(-1.5, abs=0.1)
    assert effect.std_error < 0.04 < 0.3 < without.std_error


@pytest.mark.parametrize(
    ("recipes", "seen", "yields", "said"),
    [
        (["r1"] * 5 + ["r2"] * 5, [True] * 5 + [False] * 5, list(range(10)), "No recipe of espresso has both"),
        ([f"r{k}" for k in range(10)], [True, False] * 5, list(range(10)), "No recipe of espresso has both"),
        (["r1"] * 10, [True] + [False] * 9, list(range(10)), "1 channeled and 9 clean in 1 recipe"),
        (
            ["r1"] * 4 + [f"q{k}" for k in range(6)],
            [True, True, False, False] + [False] * 6,
            list(range(10)),
            "Too few",
        ),
        (["r1"] * 10, [True] * 5 + [False] * 5, [17.0] * 5 + [19.0] * 5, "same yield to the last digit"),
        (["r1"] * 10, [True] * 10, list(range(10)), "Each of the 10 brews"),
        (["r1"] * 9, [True] * 4 + [False] * 5, list(range(9)), "Only 9 brews"),
    ],
)
def test_what_cannot_be_compared_is_refused(make_facts, recipes, seen, yields, said):
    with pytest.raises(ProblemError, match=said):
        effect_of(named(make_facts, recipes, seen, [float(y) for y in yields]))


def test_a_method_without_brews_is_refused(make_log):
    with pytest.raises(ProblemError, match="There is no brew of pour over"):
        matched_effect(make_log(seed=1), method="pour_over")


@pytest.mark.slow
def test_intervals_cover_the_truth_and_a_null_effect_is_rarely_called_real(make_log):
    """200 logs each, seeds chosen before looking; binomial 99 % band about 95 %: 0.910 to 0.990."""
    inside = settled = 0
    for seed in range(200):
        effect = effect_of(make_log(seed=40_000 + seed, effect=-1.9))
        inside += effect.low <= -1.9 <= effect.high
        settled += effect_of(make_log(seed=50_000 + seed, effect=0.0)).settled

    assert 0.910 <= inside / 200 <= 0.990
    assert 0.010 <= settled / 200 <= 0.090
