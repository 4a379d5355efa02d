from __future__ import annotations

from collections.abc import Callable

import polars as pl

from analysis.effects.by_method import effects_by_method
from analysis.effects.estimate import EffectsResult

Make = Callable[..., pl.DataFrame]


def terms(facts: pl.DataFrame) -> set[str]:
    (found,) = effects_by_method(facts)
    assert found.result is not None, found.refusal
    return set(found.result.table["term"])


def test_every_method_is_answered_once_in_a_fixed_order(make_facts: Make, make_trial: Make) -> None:
    batch = make_facts(3, method=["batch_brew"] * 3, brew_id=["x", "y", "z"])

    found = effects_by_method(pl.concat([batch, make_trial(seed=3)]))

    assert [one.method for one in found] == ["espresso", "batch_brew"]
    assert found[0].result is not None
    assert found[1].refusal == "None of its 3 brews has an extraction yield."


def test_a_factor_that_never_changed_or_was_seldom_seen_stays_out_and_is_named(make_trial: Make) -> None:
    facts = make_trial(seed=4).with_columns(
        water_temp_c=pl.lit(93.0),
        grind_steps_finer=pl.when(pl.int_range(pl.len()) < 20).then("grind_steps_finer"),
    )

    (found,) = effects_by_method(facts)

    assert isinstance(found.result, EffectsResult)
    assert terms(facts) == {"intercept", "beverage_ratio"}
    assert "water_temp_c is not in the model: it is the same in all 90 brews." in found.result.notes
    assert "grind_steps_finer is not in the model: it is known for 20 of 90 brews." in found.result.notes


def test_immersion_is_explained_by_water_not_by_beverage(make_trial: Make) -> None:
    facts = make_trial(seed=5).with_columns(
        method=pl.lit("immersion"),
        balance_used=pl.lit("immersion"),
        water_ratio=10 + 2 * pl.col("beverage_ratio"),
    )

    assert terms(facts) == {"intercept", "grind_steps_finer", "water_temp_c", "water_ratio"}


def test_void_brews_do_not_make_a_factor_vary(make_trial: Make) -> None:
    facts = make_trial(seed=6).with_columns(
        is_void=pl.col("brew_id") == "b000",
        water_temp_c=pl.when(pl.col("brew_id") == "b000").then(99.0).otherwise(93.0),
    )

    assert "water_temp_c" not in terms(facts)


def test_a_refusal_is_passed_on_as_it_is(make_trial: Make) -> None:
    (found,) = effects_by_method(make_trial(seed=7).head(5))

    assert found.result is None
    assert "few brews" in found.refusal


def test_no_brews_no_methods(make_facts: Make) -> None:
    assert effects_by_method(make_facts(0)) == []


def test_what_grind_and_dose_bring_about_is_no_factor(make_trial: Make) -> None:
    facts = make_trial(seed=11).with_columns(brew_time_s=28 + 2 * pl.col("grind_steps_finer"))

    assert terms(facts) == {"intercept", "grind_steps_finer", "water_temp_c", "beverage_ratio"}


def test_the_ratio_as_planned_stands_in_for_the_ratio_as_weighed(make_trial: Make) -> None:
    facts = make_trial(seed=12).with_columns(planned_beverage_ratio=(10 * pl.col("beverage_ratio")).round() / 10)

    assert "planned_beverage_ratio" in terms(facts)
    assert "beverage_ratio" not in terms(facts)


def test_a_single_hotter_brew_does_not_cost_the_method_its_analysis(make_trial: Make) -> None:
    hot = pl.when(pl.col("brew_id") == "b004").then(97.0).otherwise(93.0)
    facts = make_trial(seed=8, coffees=1, n=30).with_columns(water_temp_c=hot)

    (found,) = effects_by_method(facts)

    assert isinstance(found.result, EffectsResult)
    assert "water_temp_c" not in terms(facts)
    assert (
        "water_temp_c is not in the model: it is the same in all but one of 30 brews, and one brew settles nothing."
    ) in found.result.notes


def test_one_brew_without_a_yield(make_facts: Make) -> None:
    (found,) = effects_by_method(make_facts(1, method=["boiled"]))

    assert found.refusal == "Its one brew has no extraction yield."
