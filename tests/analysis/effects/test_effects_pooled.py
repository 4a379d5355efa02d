"""Methods side by side in one model, each with slopes and an intercept of its own."""

from __future__ import annotations

import numpy as np
import polars as pl
import pytest
from scipy import stats

from analysis.effects.estimate import estimate_effects
from analysis.effects.request import EffectsRequest
from schemas.problem import ProblemError

YIELD = "extraction_yield_pct"
POOLED = EffectsRequest(YIELD, ("water_temp_c",), pool_methods=True)


def _two(make_trial, *, coffees: int = 1, n: int = 90) -> pl.DataFrame:
    """Every third brew a pour over, which answers temperature by a point more a degree."""
    other = pl.int_range(pl.len()) % 3 == 0
    facts = make_trial(seed=2, coffees=coffees, n=n)
    steeper = pl.when(other).then(pl.col("water_temp_c") - 93).otherwise(0.0)
    return facts.with_columns(
        pl.col(YIELD) + steeper, method=pl.when(other).then(pl.lit("pour_over")).otherwise("method")
    )


def test_each_method_has_the_slope_it_has_alone(make_trial):
    """One coffee: least squares with a slope and a level per method is a line through each method's brews."""
    facts = _two(make_trial)
    result = estimate_effects(facts, POOLED)

    assert result.table.select("term", "per", "n_brews").rows() == [
        ("water_temp_c", "1 C in espresso", 60),
        ("water_temp_c", "1 C in pour over", 30),
        ("intercept", "at the factors' means, in espresso", 60),
        ("intercept", "at the factors' means, in pour over", 30),
    ]
    for row, name in enumerate(("espresso", "pour_over")):
        alone = facts.filter(method=name)
        slope, _ = np.polyfit(alone["water_temp_c"], alone[YIELD], 1)
        assert result.table["estimate"][row] == pytest.approx(slope, rel=1e-9)
        assert result.table["estimate"][2 + row] == pytest.approx(alone[YIELD].mean(), rel=1e-9)
    assert result.sentences[1].startswith("1 C hotter in pour over: +1.")
    assert result.model == (
        "espresso and pour over; least squares, HC3 standard errors, t(n - p); slopes and an intercept of each method"
    )
    assert result.method == "espresso and pour_over"


def test_whether_methods_answer_alike_is_tested(make_trial):
    """The difference of two slopes over its HC3 error, squared, is F on 1 and n - p degrees of freedom."""
    from statsmodels.regression.linear_model import OLS

    facts = _two(make_trial)
    row = estimate_effects(facts, POOLED).joint_tests.filter(question="the same in every method").row(0, named=True)
    temp, other = facts["water_temp_c"].to_numpy(), (facts["method"] == "pour_over").to_numpy().astype(float)
    fit = OLS(facts[YIELD].to_numpy(), np.column_stack([np.ones(90), other, temp, temp * other])).fit(cov_type="HC3")
    t = float(fit.params[3] / fit.bse[3])

    assert [row["statistic"], row["df_num"], row["df_den"]] == pytest.approx([t**2, 1, 86], rel=1e-6)
    assert row["p_value"] == pytest.approx(2 * stats.t.sf(abs(t), 86), rel=1e-6)


def test_a_factor_that_stood_still_in_one_method_has_no_term_there(make_trial):
    facts = _two(make_trial).with_columns(
        dose_g=pl.when(pl.col("method") == "espresso").then(18 + pl.int_range(pl.len()) % 3 * 0.5).otherwise(18.0)
    )
    result = estimate_effects(facts, EffectsRequest(YIELD, ("water_temp_c", "dose_g"), pool_methods=True))

    assert result.table.filter(term="dose_g")["per"].to_list() == ["1 g in espresso"]
    assert "dose_g stood still in pour over." in result.notes


def test_dial_steps_keep_to_their_grinder_within_each_method(make_trial):
    facts = make_trial(seed=4, coffees=1, grinders=2, n=120).with_columns(
        method=pl.when(pl.int_range(pl.len()) % 2 == 0).then(pl.lit("pour_over")).otherwise("method")
    )
    table = estimate_effects(facts, EffectsRequest(YIELD, ("grind_steps_finer",), pool_methods=True)).table

    assert table.filter(term="grind_steps_finer")["per"].to_list() == [
        "1 step on g0 in espresso",
        "1 step on g1 in espresso",
        "1 step on g0 in pour over",
        "1 step on g1 in pour over",
    ]
    alone = facts.filter(grinder_id="g1", method="pour_over")
    slope, _ = np.polyfit(alone["grind_steps_finer"], alone[YIELD], 1)
    assert table["estimate"][3] == pytest.approx(slope, rel=1e-9)


def test_one_method_and_all_methods_do_not_go_together(make_trial):
    with pytest.raises(ProblemError, match="Methods cannot be pooled when only moka is asked for"):
        estimate_effects(_two(make_trial), EffectsRequest(YIELD, ("water_temp_c",), method="moka", pool_methods=True))


def test_coffees_of_a_method_decide_whom_its_effect_speaks_for(make_trial):
    facts = _two(make_trial, coffees=6, n=180).filter(
        (pl.col("method") == "espresso") | pl.col("coffee_id").is_in(["c0", "c1"])
    )
    espresso, pour_over, *_ = estimate_effects(facts, POOLED).sentences

    assert "of 6 coffees, for coffees like these" in espresso
    assert "of 2 coffees, for these coffees" in pour_over
