"""What stands beside the numbers."""

from __future__ import annotations

import polars as pl

from analysis.effects.estimate import estimate_effects
from analysis.effects.request import EffectsRequest

YIELD = "extraction_yield_pct"
BENDS = (
    "{} seems to bend down: a step does not do the same everywhere, so one number for it may mislead. The option "
    "--curve shows the bend."
)


def _notes(facts: pl.DataFrame, *factors: str, response: str = YIELD, **asked) -> tuple[str, ...]:
    return estimate_effects(facts, EffectsRequest(response, factors, **asked)).notes


def test_a_plain_question_of_one_coffee_needs_no_note(make_trial):
    assert _notes(make_trial(seed=1, coffees=1), "water_temp_c") == ()


def test_few_coffees_speak_for_themselves_only(make_trial):
    assert _notes(make_trial(seed=1, coffees=3), "water_temp_c") == (
        "3 coffees are too few to judge how far others would differ, in level or in slope: the intervals speak for "
        "these coffees only, taken to answer a change alike. In invented campaigns of 3 coffees whose slopes varied, "
        "such intervals held the slope of coffees in general 70 % of the time, not 95 %.",
    )
    assert _notes(make_trial(seed=1, coffees=6), "water_temp_c") == ()


def test_lots_judged_from_few_of_them(make_trial):
    facts = make_trial(seed=1, coffees=1).with_columns(lot_id=pl.concat_str(pl.lit("l"), pl.int_range(pl.len()) % 3))
    facts = facts.with_columns(pl.col(YIELD) + 2.0 * pl.col("lot_id").str.tail(1).cast(pl.Float64))

    assert "How far lots differ from each other was judged from only 3 of them." in _notes(
        facts, "water_temp_c", group="lot_id"
    )


def test_coffees_that_the_group_does_not_hold_apart(make_trial):
    facts = make_trial(seed=1).with_columns(operator=pl.int_range(pl.len()).cast(pl.String).str.tail(1))

    assert (
        "The 6 coffees are compared here as if they were one: a difference between them can pass for an effect."
    ) in _notes(facts, "water_temp_c", group="operator")


def test_lots_hold_coffees_apart(make_trial):
    facts = make_trial(seed=1).with_columns(lot_id=pl.col("coffee_id") + "-1")

    assert not any("as if they were one" in note for note in _notes(facts, "water_temp_c", group="lot_id"))


def test_an_outcome_among_the_factors(make_trial):
    facts = make_trial(seed=1, coffees=1).with_columns(brew_time_s=28.0 + (7 * pl.int_range(pl.len())) % 9)
    steep = facts.with_columns(method=pl.lit("immersion"), balance_used=pl.lit("immersion"))
    said = (
        "{} is an outcome as well as a factor: grind and dose act partly through it, so the other effects are stated "
        "at equal {}."
    )

    assert _notes(facts, "water_temp_c", "channeled") == (said.format("channeled", "channeling"),)
    assert _notes(facts, "water_temp_c", "brew_time_s") == (said.format("brew_time_s", "brew time"),)
    assert _notes(steep, "water_temp_c", "brew_time_s") == ()
    assert _notes(facts, "channeled") == ()


def test_a_response_that_contains_its_factor(make_trial):
    facts = make_trial(seed=1, coffees=1).with_columns(water_ratio=16 + pl.col("beverage_ratio"))
    steep = facts.with_columns(method=pl.lit("immersion"), balance_used=pl.lit("immersion"))
    said = "{} counts into extraction_yield_pct by way of {}."

    assert _notes(facts, "beverage_ratio") == (said.format("beverage_ratio", "beverage_g and dose_g"),)
    assert _notes(facts, "water_ratio") == (said.format("water_ratio", "dose_g"),)
    assert _notes(steep, "water_ratio") == (said.format("water_ratio", "dose_g and water_g"),)
    doses = facts.with_columns(dose_g=18 + 0.1 * (pl.int_range(pl.len()) % 7))
    assert _notes(doses, "dose_g") == ("dose_g counts into extraction_yield_pct itself.",)


def test_what_shared_weights_can_do_is_said_once_in_the_sentence(make_trial):
    found = estimate_effects(make_trial(seed=1, coffees=1), EffectsRequest(YIELD, ("beverage_ratio",)))

    assert "weighing noise" in found.sentences[0]
    assert not any("weighing noise" in note for note in found.notes)


def test_factors_that_moved_together(make_trial):
    facts = make_trial(seed=1, coffees=1).with_columns(
        pressure_bar=9 + 0.1 * pl.col("grind_steps_finer") + 0.04 * (pl.int_range(pl.len()) % 2)
    )
    notes = _notes(facts, "grind_steps_finer", "pressure_bar")

    assert any(note.startswith("grind_steps_finer and pressure_bar moved together (r = 0.9") for note in notes)


def test_a_rare_yes(make_trial):
    facts = make_trial(seed=1, coffees=1).with_columns(channeled=pl.col("brew_id").is_in(["b005", "b050"]))

    assert _notes(facts, "channeled") == ("channeled is yes in only 2 of 90 brews.",)


def test_a_straight_line_through_a_bend_is_caught(make_trial):
    facts = make_trial(seed=1, coffees=1, curve=-0.3)
    said = BENDS.format("grind_steps_finer")

    assert said in _notes(facts, "grind_steps_finer")
    assert said not in _notes(facts, "grind_steps_finer", curves=("grind_steps_finer",))

    sentence, level = estimate_effects(facts, EffectsRequest(YIELD, ("grind_steps_finer",))).sentences
    assert sentence.endswith("; it seems to bend down, so one slope may mislead")
    assert "bend" not in level


def test_a_bend_is_named_with_its_grinder(make_trial):
    facts = make_trial(seed=3, coffees=1, grinders=2, n=160).with_columns(
        extraction_yield_pct=pl.col(YIELD)
        + pl.when(grinder_id="g1").then(-0.4).otherwise(0) * pl.col("grind_steps_finer") ** 2
    )

    assert BENDS.format("grind_steps_finer on g1") in _notes(facts, "grind_steps_finer")


def test_a_factor_between_coffees_in_a_singular_fit(make_facts, reference):
    """Case brews_singular: no spread between five coffees, here with a dose that only differs between them."""
    data = reference("mixed/inputs.csv").filter(case="brews_singular")
    dose = data["group"].is_in(["c1", "c2"]).cast(pl.Float64) + 18
    facts = make_facts(
        data.height,
        coffee_id=data["group"],
        extraction_yield_pct=data["y"],
        grind_steps_finer=data["x1"],
        dose_g=dose,
    )

    assert (
        "dose_g differs only between 5 coffees, and nothing else is taken to differ between them here, so its interval "
        "is too narrow."
    ) in _notes(facts, "grind_steps_finer", "dose_g")


def test_a_bend_on_one_grinder_is_seen_beside_a_grinder_with_two_settings(make_trial):
    facts = make_trial(seed=3, coffees=1, grinders=2, n=160)
    grind = pl.col("grind_steps_finer")
    facts = facts.with_columns(
        pl.when(grinder_id="g0").then((grind > 0).cast(pl.Float64)).otherwise(grind).alias("grind_steps_finer")
    ).with_columns((pl.col(YIELD) - pl.when(grinder_id="g1").then(0.4 * grind**2).otherwise(0.0)).alias(YIELD))

    assert BENDS.format("grind_steps_finer on g1") in _notes(facts, "grind_steps_finer")


def test_one_brew_that_holds_most_of_a_factor_is_named(make_trial):
    """64 against 89 to 97 C: 29^2 is over half of the squares, 29^2 + 89 * 1.5^2 or about 1040."""
    facts = make_trial(seed=1, coffees=1).with_columns(
        water_temp_c=pl.when(pl.col("brew_id") == "b033").then(64.0).otherwise("water_temp_c")
    )
    said = "Most of what is known of water_temp_c comes from one brew, b033 at 64 C: check that record."

    assert said in _notes(facts, "water_temp_c", "beverage_ratio")
    assert said not in _notes(facts.filter(pl.col("brew_id") != "b033"), "water_temp_c")


def test_the_brew_that_is_named_has_its_value_in_sensible_digits(make_trial):
    facts = make_trial(seed=1, coffees=1).with_columns(
        beverage_ratio=pl.when(pl.col("brew_id") == "b033").then(37.1 / 7).otherwise("beverage_ratio")
    )

    assert (
        "Most of what is known of beverage_ratio comes from one brew, b033 at 5.3 g/g: check that record."
    ) in _notes(facts, "beverage_ratio")


def test_grinders_that_share_one_level_are_said(make_trial):
    facts = make_trial(seed=2, coffees=1, grinders=2).with_columns(grind_um_finer=10 * pl.col("grind_steps_finer"))
    said = (
        "These brews come from 2 grinders, compared as if they were one: a difference between them can pass for an "
        "effect."
    )

    assert said in _notes(facts, "water_temp_c")
    assert said in _notes(facts, "grind_um_finer")
    assert said not in _notes(facts, "grind_steps_finer")
    assert said not in _notes(facts, "water_temp_c", group="grinder_id")
