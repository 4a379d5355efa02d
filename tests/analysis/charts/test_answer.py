from __future__ import annotations

from dataclasses import replace

import made_up_lab
import polars as pl

from analysis.charts.answer import answer
from analysis.charts.effects_input import MethodEffects


def fitted(**changes: tuple[float, float, float]) -> MethodEffects:
    """Made-up espresso effects with some (estimate, low, high) replaced."""
    one = made_up_lab.made_up_effects(made_up_lab.made_up_facts(), "espresso")
    table = one.result.table
    for term, values in changes.items():
        for column, value in zip(("estimate", "low", "high"), values, strict=True):
            hit = pl.col("term") == term
            table = table.with_columns(pl.when(hit).then(value).otherwise(pl.col(column)).alias(column))
    return MethodEffects("espresso", made_up_lab.FakeEffects(table, one.result.sentences, one.result.residuals))


def test_the_clearest_effect_is_said_and_the_least_certain_setting_brewed_next():
    found = answer([fitted()], n_brews=300, n_yields=290)

    assert found.said == (
        "Espresso, one step finer: +0.41 points, 95 % interval 0.31 to 0.51, 124 brews of 6 coffees.",
        "Espresso, channeled against clean: -2.10 points, 95 % interval -2.70 to -1.50.",
    )
    # The ratio's interval reaches further, but it shares weights with the yield: temperature is asked about first.
    assert "two settings of water temperature" in found.next_step
    assert "1 °C hotter could mean anything from -0.08 to +0.20 points" in found.reasons[0]
    assert "tends to look larger than it is" in found.note
    assert not found.is_blocked


def test_how_many_brews_is_said_from_the_scatter_of_like_brews():
    # Cohen (1988), table 2.4.1: for a difference of one standard deviation (0.5 of 0.5 points) 17 in each group.
    _, how_many = answer([fitted()], n_brews=300, n_yields=290).reasons

    assert "scatter by 0.50 points (standard deviation)" in how_many
    assert "17 brews at each setting" in how_many


def test_a_log_that_scatters_widely_is_told_to_look_at_that_first():
    one = fitted()
    wild = replace(one, result=replace(one.result, sigma=3.0))

    assert "find what scatters" in answer([wild], n_brews=300, n_yields=290).reasons[1]


def test_the_methods_brewed_most_speak_and_a_seldom_brewed_one_does_not():
    espresso = fitted(water_temp_c=(0.2, 0.1, 0.3), beverage_ratio=(0.2, 0.1, 0.3))
    # Twelve odd brews of cold brew: a huge clear effect and an interval that reaches far.
    few = made_up_lab.FakeEffects(
        espresso.result.table.with_columns(
            low=pl.when(pl.col("term") == "water_temp_c").then(-9.0).otherwise("low"),
            estimate=pl.when(pl.col("term") == "grind_steps_finer").then(8.0).otherwise("estimate"),
        ),
        espresso.result.sentences,
        espresso.result.residuals.head(12),
    )

    found = answer([MethodEffects("cold_brew", few), espresso], n_brews=300, n_yields=290)

    assert all(said.startswith("Espresso") for said in found.said)
    assert "three repeats of the recipe you would choose for espresso" in found.next_step


def test_where_only_a_ratio_is_clear_its_shared_weights_are_said():
    wide = (0.1, -1.0, 1.2)
    found = answer(
        [fitted(grind_steps_finer=wide, channeled=wide, beverage_ratio=(0.3, 0.2, 0.4))], n_brews=300, n_yields=290
    )

    assert found.said == ("Espresso, 0.1 g/g more beverage per dose: +0.12 points, 95 % interval -0.06 to 0.30.",)
    assert "weighing noise" in found.note


def test_nothing_clear_is_not_called_no_effect():
    wide = (0.1, -1.0, 1.2)
    found = answer(
        [fitted(grind_steps_finer=wide, channeled=wide, water_temp_c=wide, beverage_ratio=wide)],
        n_brews=300,
        n_yields=290,
    )

    assert found.said == ("No factor stands out from the noise yet.",)


def test_all_settings_settled_asks_for_repeats():
    found = answer([fitted(water_temp_c=(0.2, 0.1, 0.3), beverage_ratio=(0.2, 0.1, 0.3))], n_brews=300, n_yields=290)

    assert "three repeats" in found.next_step


DOUBT = (
    "2 brews count as they stand with a yield outside 8 to 28 %: b-04 at 31.0 % and b-19 at 6.5 %. Check their records "
    "first. Without them it would be 1 C hotter: +0.30 points, 95 % interval 0.10 to 0.50."
)


def test_a_method_that_hangs_on_doubtful_brews_is_checked_before_it_is_brewed():
    one = fitted()
    doubted = replace(one, result=replace(one.result, notes=("Another note.", DOUBT)))

    found = answer([doubted], n_brews=300, n_yields=290)

    assert found.next_step == (
        "Check first: espresso. 2 brews count as they stand with a yield outside 8 to 28 %: b-04 at 31.0 % and b-19 at "
        "6.5 %."
    )
    assert (found.reasons, found.is_blocked) == ((), True)


def test_beside_a_doubtful_method_the_sound_one_is_brewed_next():
    one = fitted()
    single = DOUBT.replace("2 brews count as they stand", "1 brew counts as it stands").replace("their", "its")
    doubted = replace(one, result=replace(one.result, notes=(single,)))

    found = answer([doubted, replace(one, method="pour_over")], n_brews=300, n_yields=290)

    assert found.next_step.startswith("Brew next: pour over at two settings of water temperature")
    assert found.reasons[-1].startswith("Check first: espresso. 1 brew counts as it stands")
    assert not found.is_blocked


def test_channeling_is_never_a_setting_to_brew():
    found = answer([fitted(channeled=(-1.0, -9.0, 7.0))], n_brews=300, n_yields=290)

    assert "channel" not in found.next_step


def test_without_any_model_the_reasons_stand_in_the_way():
    found = answer([MethodEffects("pour_over", refusal="Too few brews.")], n_brews=3, n_yields=3)

    assert found.is_blocked
    assert found.next_step == "Pour over: Too few brews."


def test_a_log_without_readings_says_what_a_yield_needs():
    found = answer([], n_brews=40, n_yields=0)

    assert "none of the 40 brews" in found.said[0]
    assert "strength reading" in found.next_step


def test_an_empty_project_says_so():
    assert answer([], n_brews=0, n_yields=0).said == ("There are no brews yet.",)


def test_a_factor_that_shares_weights_with_the_yield_is_not_the_headline():
    # Beverage weight stands on both sides of the percolation balance: weighing noise alone makes a slope.
    found = answer([fitted(beverage_ratio=(0.5, 0.49, 0.51))], n_brews=300, n_yields=290)

    assert found.said[0].startswith("Espresso, one step finer")
