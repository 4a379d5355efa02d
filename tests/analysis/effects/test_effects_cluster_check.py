"""The check with independent coffees against clubSandwich, and when it is spoken of."""

from __future__ import annotations

import numpy as np
import polars as pl
import pytest

from analysis.effects.cluster_check import cluster_check, disagreements
from analysis.effects.estimate import estimate_effects
from analysis.effects.model import fit_chosen
from analysis.effects.request import EffectsRequest
from analysis.effects.rows import choose_rows

YIELD = "extraction_yield_pct"


def test_it_is_clubsandwich_with_a_level_for_each_coffee(make_facts, reference):
    data = reference("effects_random/inputs.csv")
    expected = reference("effects_random/expected.csv").filter(case="cr2")
    facts = make_facts(
        data.height,
        coffee_id=data["coffee"],
        grind_steps_finer=data["grind"],
        water_temp_c=data["temp"],
        extraction_yield_pct=data["y"],
    )
    check = estimate_effects(facts, EffectsRequest(YIELD, ("grind_steps_finer", "water_temp_c"))).cluster_check

    assert check["term"].to_list() == ["grind_steps_finer", "water_temp_c"]
    for name in ("estimate", "std_error", "df"):
        assert check[name].to_numpy() == pytest.approx(expected.filter(quantity=name)["value"].to_numpy(), rel=1e-7)


def test_under_four_degrees_of_freedom_it_is_refused(make_trial):
    check = estimate_effects(make_trial(seed=1, coffees=3), EffectsRequest(YIELD, ("water_temp_c",))).cluster_check
    (row,) = check.iter_rows(named=True)

    assert row["df"] < 4
    assert row["low"] is None
    assert row["refused"].endswith(" degrees of freedom, and 4 are needed")
    assert estimate_effects(
        make_trial(seed=1, coffees=1), EffectsRequest(YIELD, ("water_temp_c",))
    ).cluster_check.is_empty()


def test_factors_that_differ_between_coffees_have_no_check(make_trial):
    facts = make_trial(seed=1).with_columns(days_off_roast=7 + pl.col("coffee_id").str.tail(1).cast(pl.Int64))
    check = estimate_effects(facts, EffectsRequest(YIELD, ("water_temp_c", "days_off_roast"))).cluster_check

    assert check["term"].to_list() == ["water_temp_c"]


def test_it_is_spoken_of_only_where_it_says_something_else(make_trial):
    """Slopes of one coffee turned round: least squares that takes coffees alike is far surer than CR2."""
    request = EffectsRequest(YIELD, ("grind_steps_finer",))
    agree = make_trial(seed=3, n=160, coffees=8)
    turned = pl.when(pl.col("coffee_id").is_in(["c0", "c1", "c2"])).then(-0.9).otherwise(0.0)
    apart = agree.with_columns(pl.col(YIELD) + turned * pl.col("grind_steps_finer"))

    assert not any("CR2" in note for note in estimate_effects(agree, request).notes)

    chosen = choose_rows(apart, request)
    fitted = fit_chosen(chosen, request)
    narrow = np.full(fitted.fit.estimate.size, 0.01)
    sure = type(fitted)(**{**fitted.__dict__, "fit": type(fitted.fit)(**{**fitted.fit.__dict__, "std_error": narrow})})
    (note,) = disagreements(cluster_check(chosen.brews, fitted), sure, YIELD)
    assert note.startswith("grind_steps_finer: a check that asks only for independent coffees (CR2) gives ")
    assert note.endswith("; the interval above leans on the model.")


def test_two_grinders_keep_their_own_levels_in_the_check(make_trial):
    """Least squares by hand with a level for each coffee and one for the second grinder."""
    facts = make_trial(seed=3, grinders=2)
    facts = facts.with_columns(pl.col(YIELD) + 2.0 * (pl.col("grinder_id") == "g1"))
    check = estimate_effects(facts, EffectsRequest(YIELD, ("water_temp_c", "beverage_ratio"))).cluster_check
    grinder = (facts["grinder_id"] == "g1").cast(pl.Float64).to_numpy()
    with_dial = EffectsRequest(YIELD, ("grind_steps_finer", "water_temp_c", "beverage_ratio"))
    both = estimate_effects(facts, with_dial).cluster_check

    levels = facts["coffee_id"].to_dummies().to_numpy().astype(float)
    plain = np.column_stack([facts["water_temp_c"], facts["beverage_ratio"], levels])
    beta = np.linalg.lstsq(plain, facts[YIELD].to_numpy(), rcond=None)[0]
    assert check["estimate"].to_numpy() == pytest.approx(beta[:2] * np.array([1.0, 0.1]), rel=1e-6)
    dial = facts["grind_steps_finer"].to_numpy()
    x = np.column_stack([dial * (1 - grinder), dial * grinder, plain, grinder])
    beta = np.linalg.lstsq(x, facts[YIELD].to_numpy(), rcond=None)[0]
    assert both["estimate"].to_numpy() == pytest.approx(beta[:4] * np.array([1.0, 1.0, 1.0, 0.1]), rel=1e-6)
