from __future__ import annotations

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


def test_the_clearest_effect_is_said():
    found = answer([fitted()], n_brews=300, n_yields=290)

    assert found.said == (
        "Espresso, one step finer: +0.41 points, 95 % interval 0.31 to 0.51, 124 brews of 6 coffees.",
        "Espresso, channeled against clean: -2.10 points, 95 % interval -2.70 to -1.50.",
    )
    assert "tends to look larger than it is" in found.note


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


def test_without_any_model_nothing_is_said_to_have_moved():
    found = answer([MethodEffects("pour_over", refusal="Too few brews.")], n_brews=3, n_yields=3)

    assert found.said == ("What moved extraction cannot be said yet.",)


def test_a_log_without_readings_says_so():
    found = answer([], n_brews=40, n_yields=0)

    assert "none of the 40 brews" in found.said[0]


def test_an_empty_project_says_so():
    assert answer([], n_brews=0, n_yields=0).said == ("There are no brews yet.",)


def test_a_factor_that_shares_weights_with_the_yield_is_not_the_headline():
    # Beverage weight stands on both sides of the percolation balance: weighing noise alone makes a slope.
    found = answer([fitted(beverage_ratio=(0.5, 0.49, 0.51))], n_brews=300, n_yields=290)

    assert found.said[0].startswith("Espresso, one step finer")
