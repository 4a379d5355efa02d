"""The screen for unflagged brews that yielded too little: against statsmodels, refits, and clean simulated logs."""

import numpy as np
import polars as pl
import pytest

from analysis.channeling.screen import leave_each_out, low_yield_screen
from schemas.problem import ProblemError


def screen_of(facts):
    return low_yield_screen(facts, method="espresso")


def clean_log(make_facts, rng, n=60, **more):
    """Clean shots of 3 coffees, 7 dial settings, normal noise of 0.5 points."""
    coffee, grind = rng.integers(3, size=n), rng.integers(-3, 4, size=n).astype(float)
    ratio = np.round(2 + rng.normal(scale=0.1, size=n), 3)
    yielded = 19.5 + 0.7 * coffee + 0.4 * grind - 0.1 * grind**2 + 2 * (ratio - 2) + rng.normal(scale=0.5, size=n)
    given = {
        "coffee_id": [f"c{k}" for k in coffee],
        "grind_steps_finer": grind,
        "beverage_ratio": ratio,
        "channeled": [False] * n,
        "extraction_yield_pct": yielded,
    }
    return make_facts(n, **(given | more))


def test_residuals_are_those_of_statsmodels():
    import statsmodels.api as sm

    rng = np.random.default_rng(2)
    x = np.column_stack([np.ones(30), rng.normal(size=(30, 2))])
    y = x @ [20, 1, -1] + rng.normal(size=30)

    each = leave_each_out(y, x)

    influence = sm.OLS(y, x).fit().get_influence()
    assert (y - each.predicted) / each.spread == pytest.approx(influence.resid_studentized_external, rel=1e-9)
    assert each.leverage == pytest.approx(influence.hat_matrix_diag)
    assert each.df == 26


def test_predictions_and_their_spread_leave_the_brew_out():
    """Refit without each row: prediction x b, and s^2 (1 + x (X'X)^-1 x') (any regression text)."""
    rng = np.random.default_rng(3)
    x = np.column_stack([np.ones(15), rng.normal(size=15)])
    y = x @ [20, 1] + rng.normal(size=15)

    each = leave_each_out(y, x)

    for row in range(15):
        rest = np.arange(15) != row
        beta, squares, *_ = np.linalg.lstsq(x[rest], y[rest], rcond=None)
        variance = squares[0] / (14 - 2) * (1 + x[row] @ np.linalg.inv(x[rest].T @ x[rest]) @ x[row])
        assert each.predicted[row] == pytest.approx(x[row] @ beta)
        assert each.spread[row] == pytest.approx(np.sqrt(variance))


def test_columns_that_repeat_each_other_do_no_harm():
    rng = np.random.default_rng(3)
    x = np.column_stack([np.ones(15), rng.normal(size=15)])
    y = x @ [20, 1] + rng.normal(size=15)

    twice = leave_each_out(y, np.column_stack([x, x]))

    assert twice.predicted == pytest.approx(leave_each_out(y, x).predicted)
    assert twice.df == 12


def test_a_shot_far_below_its_recipe_is_offered(make_facts):
    facts = clean_log(make_facts, np.random.default_rng(11))
    hidden = facts.with_columns(
        extraction_yield_pct=pl.when(pl.col("brew_id") == "b017")
        .then(pl.col("extraction_yield_pct") - 3)
        .otherwise("extraction_yield_pct")
    )

    found = screen_of(hidden).found

    assert [low.brew_id for low in found if low.strong] == ["b017"]
    low = found[0]
    assert low.yielded < low.low < low.predicted < low.high
    assert low.p_bonferroni == pytest.approx(60 * low.p_value)
    assert low.looked_at


def test_a_shot_far_above_its_recipe_is_not_offered(make_facts):
    facts = clean_log(make_facts, np.random.default_rng(11))
    high = facts.with_columns(
        extraction_yield_pct=pl.when(pl.col("brew_id") == "b017")
        .then(pl.col("extraction_yield_pct") + 3)
        .otherwise("extraction_yield_pct")
    )

    assert "b017" not in [low.brew_id for low in screen_of(high).found]


def test_flagged_shots_are_neither_tested_nor_used(make_log):
    facts = make_log(seed=8, unseen=0.2)
    screen = screen_of(facts)
    flagged = set(facts.filter(pl.col("channeled"))["brew_id"])

    assert screen.n_tested + screen.n_alone + screen.n_incomplete == facts.height - len(flagged)
    assert not flagged & {low.brew_id for low in screen.found}
    spoiled = facts.with_columns(
        extraction_yield_pct=pl.when(pl.col("channeled")).then(1.0).otherwise("extraction_yield_pct")
    )
    assert screen_of(spoiled) == screen


def test_a_coffee_brewed_once_is_not_judged(make_facts):
    facts = clean_log(make_facts, np.random.default_rng(12)).with_columns(
        coffee_id=pl.when(pl.col("brew_id") == "b000").then(pl.lit("rare")).otherwise("coffee_id")
    )

    screen = screen_of(facts)

    assert (screen.n_tested, screen.n_alone) == (59, 1)


def test_brews_without_a_value_of_the_recipe_are_counted(make_facts):
    facts = clean_log(make_facts, np.random.default_rng(12)).with_columns(
        beverage_ratio=pl.when(pl.col("brew_id") < "b005").then(None).otherwise("beverage_ratio")
    )

    screen = screen_of(facts)

    assert (screen.n_tested, screen.n_incomplete) == (55, 5)
    assert screen.model == "the coffee, grind with a bend and beverage ratio"


def test_two_grinders_have_their_own_dial(make_facts):
    rng = np.random.default_rng(13)
    facts = clean_log(make_facts, rng, grinder_id=["g1", "g2"] * 30)
    shifted = facts.with_columns(
        extraction_yield_pct=pl.col("extraction_yield_pct") - 4 * (pl.col("grinder_id") == "g2").cast(pl.Float64)
    )

    assert [low.brew_id for low in screen_of(shifted).found] == [low.brew_id for low in screen_of(facts).found]


def test_few_brews_use_fewer_factors(make_facts):
    facts = clean_log(make_facts, np.random.default_rng(14), n=18)

    assert screen_of(facts).model == "the coffee"


@pytest.mark.parametrize(
    ("n", "more", "said"),
    [
        (9, {}, "Too few brews of espresso"),
        (12, {"coffee_id": [f"c{k}" for k in range(12)]}, "Too few brews of espresso"),
        (12, {"extraction_yield_pct": [None] * 12}, "0 unflagged brews"),
        (20, {"extraction_yield_pct": [19.0] * 20}, "without any scatter"),
        (12, {"channeled": [True] * 12}, "0 unflagged brews"),
    ],
)
def test_what_cannot_be_screened_is_refused(make_facts, n, more, said):
    with pytest.raises(ProblemError, match=said):
        screen_of(clean_log(make_facts, np.random.default_rng(15), n=n, **more))


@pytest.mark.slow
def test_in_clean_logs_a_false_alarm_is_as_rare_as_promised(make_facts):
    """1,000 clean logs of 60 brews, seed chosen before looking. Binomial 99 % band about 5 %: 3.3 to 6.8 %.

    The softer list alone may name a brew in at most 10 % of clean logs: at most 12.5 % here (99 %).
    """
    rng = np.random.default_rng(20261126)
    strong = soft = 0
    for _ in range(1000):
        found = screen_of(clean_log(make_facts, rng)).found
        strong += any(low.strong for low in found)
        soft += bool(found)

    assert 0.033 <= strong / 1000 <= 0.068
    assert soft / 1000 <= 0.125


@pytest.mark.slow
def test_a_hidden_shot_of_two_and_a_half_points_less_is_mostly_found(make_facts):
    """Known truth: 5 noise sds below its recipe. 200 logs, seed chosen before looking; at least 8 in 10 found."""
    rng = np.random.default_rng(20261127)
    hits = 0
    for _ in range(200):
        facts = clean_log(make_facts, rng)
        lowered = facts.with_columns(
            extraction_yield_pct=pl.when(pl.col("brew_id") == "b030")
            .then(pl.col("extraction_yield_pct") - 2.5)
            .otherwise("extraction_yield_pct")
        )
        hits += "b030" in [low.brew_id for low in screen_of(lowered).found if low.strong]

    assert hits / 200 >= 0.8
