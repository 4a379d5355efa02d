"""What cannot be answered is refused in one sentence that says what would help."""

from __future__ import annotations

import numpy as np
import polars as pl
import pytest

from analysis.effects.estimate import estimate_effects
from analysis.effects.request import EffectsRequest
from analysis.effects.rows import NothingCompleteError
from schemas.problem import ProblemError

YIELD = "extraction_yield_pct"
FOUR = ("grind_steps_finer", "water_temp_c", "beverage_ratio", "channeled")
GRIND = ("grind_steps_finer",)


def _refusal(facts: pl.DataFrame, factors: tuple[str, ...] = FOUR, response: str = YIELD, **asked) -> str:
    with pytest.raises(ProblemError) as caught:
        estimate_effects(facts, EffectsRequest(response, factors, **asked))
    return str(caught.value)


@pytest.mark.parametrize(
    ("factors", "asked", "start"),
    [
        ((), {}, "No factor is named: say what might explain it, such as grind_steps_finer."),
        (("grind_step_finer",), {}, "'grind_step_finer' is not a factor that can be used; did you mean grind_steps_f"),
        (("__import__('os')",), {}, "\"__import__('os')\" is not a factor that can be used. The list: grind_steps_fi"),
        (("grind_dial",), {}, "'grind_dial' is not a factor that can be used"),
        (("dose_g", "dose_g"), {}, "dose_g is named twice as a factor; name it once."),
        (("beverage_g",), {"response": "beverage_g"}, "beverage_g cannot explain itself; leave it out of the factors."),
        (GRIND, {"response": "channeled"}, "'channeled' is not a response that can be used"),
        (
            ("grind_steps_finer", "grind_um_finer"),
            {},
            "grind_steps_finer and grind_um_finer are the same grind in two units; name one of them.",
        ),
        (GRIND, {"group": "coffee"}, "'coffee' is not a group that can be used; did you mean coffee_id?"),
        (GRIND, {"method": "expresso"}, "'expresso' is not a method that can be used; did you mean espresso?"),
        (GRIND, {"method": "moka"}, "No brew is of the method moka; there are espresso (90)."),
        (
            GRIND,
            {"curves": ("dose_g",)},
            "The curve names 'dose_g', which is not among the factors (grind_steps_finer); add it to them.",
        ),
        (
            ("channeled",),
            {"curves": ("channeled",)},
            "channeled is yes or no and cannot have a curve; leave it out of the curves.",
        ),
        (GRIND, {"curves": GRIND * 2}, "grind_steps_finer is named twice as a curve; name it once."),
        (
            GRIND,
            {"crosses": ("grind_steps_finer",)},
            "The cross 'grind_steps_finer' should be two factors with a colon between them, such as a:b.",
        ),
        (
            GRIND,
            {"crosses": ("grind_steps_finer:grind_steps_finer",)},
            "grind_steps_finer cannot be crossed with itself; ask for its curve instead.",
        ),
        (
            GRIND,
            {"crosses": ("grind_steps_finer:dose_g",)},
            "The cross names 'dose_g', which is not among the factors (grind_steps_finer); add it to them.",
        ),
        (
            ("dose_g", "water_g"),
            {"crosses": ("dose_g:water_g", "water_g:dose_g")},
            "water_g and dose_g are crossed twice; name the cross once.",
        ),
        (
            GRIND,
            {"steps": {"grind_steps_finer": 0}},
            "The step of grind_steps_finer is 0; it must be a number above 0.",
        ),
        (GRIND, {"steps": {"dose_g": 1}}, "The step names 'dose_g', which is not among the factors (grind_steps_fine"),
        (
            ("channeled",),
            {"steps": {"channeled": 2}},
            "channeled is yes or no: its effect is always stated as yes against no, without a step.",
        ),
    ],
)
def test_what_is_asked_is_checked_first(make_trial, factors, asked, start):
    assert _refusal(make_trial(seed=1), factors, **asked).startswith(start)


def test_no_brews_and_only_void_brews(make_trial):
    facts = make_trial(seed=1)

    assert _refusal(facts.clear()) == "There are no brews yet; ingest some first."
    assert _refusal(facts.with_columns(is_void=True)) == "Every brew asked for is void, so there is nothing to analyse."


def test_a_column_that_is_empty_everywhere(make_trial):
    facts = make_trial(seed=1).with_columns(grind_steps_finer=pl.lit(None, pl.Float64))

    assert _refusal(facts) == (
        "None of 90 brews has everything asked for: grind_steps_finer is missing from 90. Record it, or leave it "
        "out. Grind steps need a grinder that says which way its dial runs (finer_is)."
    )


def test_the_factors_to_ask_for_instead_are_those_that_enough_brews_have(make_trial):
    k = pl.int_range(pl.len())
    facts = make_trial(seed=1).with_columns(
        grind_steps_finer=pl.lit(None, pl.Float64),
        water_temp_c=pl.when(k < 60).then("water_temp_c"),
        channeled=pl.when(k >= 60).then("channeled"),
    )

    def there(facts: pl.DataFrame) -> tuple[str, ...]:
        with pytest.raises(NothingCompleteError) as caught:
            estimate_effects(facts, EffectsRequest(YIELD, FOUR))
        return caught.value.factors_there

    # Never grind; temperature in 60 brews and channeling in the other 30, so the rarer of the two goes as well.
    assert there(facts) == ("water_temp_c", "beverage_ratio")
    assert there(facts.with_columns(water_temp_c=pl.when(k < 60).then(93.0))) == ("beverage_ratio", "channeled")
    assert there(facts.with_columns(extraction_yield_pct=pl.lit(None, pl.Float64))) == ()


def test_methods_are_not_pooled(make_trial):
    k = pl.int_range(pl.len())
    method = pl.when(k < 40).then(pl.lit("espresso")).when(k < 80).then(pl.lit("pour_over")).otherwise(pl.lit("moka"))

    assert _refusal(make_trial(seed=1).with_columns(method=method)) == (
        "These brews are of 3 methods, espresso (40), pour_over (40), moka (10), and methods are not pooled: "
        "choose one with --method, or ask for each beside the others with --pool-methods."
    )


def test_a_factor_or_response_that_does_not_vary(make_trial):
    facts = make_trial(seed=1)

    assert _refusal(facts.with_columns(water_temp_c=93.0)) == (
        "water_temp_c does not vary: it is 93 C in all 90 brews, so nothing can be learned of it. "
        "Brew at a second setting, or leave it out of the factors."
    )
    assert _refusal(facts.with_columns(channeled=False)) == (
        "channeled does not vary: it is no in all 90 brews, so nothing can be learned of it. "
        "Leave it out of the factors until both have been seen."
    )
    assert _refusal(facts.with_columns(extraction_yield_pct=20.0)) == (
        "extraction_yield_pct does not vary: it is 20 % in all 90 brews, so nothing can be learned of it. "
        "Check how it was recorded."
    )


def test_a_curve_through_two_settings(make_trial):
    facts = make_trial(seed=1).with_columns(water_temp_c=pl.when(pl.col("water_temp_c") > 93).then(95.0).otherwise(91))

    assert _refusal(facts, curves=("water_temp_c",)) == (
        "A curve needs at least 3 settings and water_temp_c has 2; brew a third, or leave the curve out."
    )


def test_too_few_brews_of_one_and_of_several_coffees(make_trial):
    one, several = make_trial(seed=1, coffees=1), make_trial(seed=1)

    assert _refusal(one.head(4), GRIND) == (
        "Too few brews: 4 complete brews to work out 2 numbers from (each effect, and the level they start from); "
        "at least 5 are needed. Brew more, or ask for fewer factors."
    )
    assert estimate_effects(one.head(5), EffectsRequest(YIELD, GRIND)).n_brews == 5
    coffees = several.head(8)["coffee_id"].n_unique()
    assert _refusal(several.head(8), ("grind_steps_finer", "water_temp_c", "beverage_ratio")) == (
        f"Too few brews: 8 complete brews to work out 4 numbers from (each effect, and the level they start from), "
        f"besides the levels of {coffees} coffees; at least {4 + coffees - 1 + 3} are needed. "
        "Brew more, or ask for fewer factors."
    )


def test_factors_that_always_move_together(make_trial):
    facts = make_trial(seed=1).with_columns(water_temp_c=93 - pl.col("grind_steps_finer"))

    assert _refusal(facts) == (
        "grind_steps_finer and water_temp_c always move together (r = -1.000), so their effects cannot be told apart. "
        "Leave one out, or brew where one changes and the other does not."
    )
    three = facts.with_columns(
        water_temp_c=93 - pl.col("grind_steps_finer") + pl.col("dose_g"),
        dose_g=pl.int_range(pl.len()) % 3 + 17.0,
    ).with_columns(water_temp_c=93 - pl.col("grind_steps_finer") + pl.col("dose_g"))
    assert _refusal(three, ("grind_steps_finer", "water_temp_c", "dose_g")).startswith(
        "grind_steps_finer, water_temp_c and dose_g always move together, so their effects cannot be told apart."
    )


def test_a_factor_that_changes_only_with_the_grinder(make_trial):
    facts = make_trial(seed=1, coffees=1, grinders=2).with_columns(
        water_temp_c=pl.when(grinder_id="g0").then(92.0).otherwise(94.0)
    )

    assert _refusal(facts) == (
        "water_temp_c changes only where the grinder changes, so its effect cannot be told from the difference "
        "between grinders. Use two settings on one grinder, or leave it out."
    )


def test_a_factor_that_only_differs_between_two_coffees(make_trial):
    facts = make_trial(seed=1, coffees=2).with_columns(water_temp_c=pl.when(coffee_id="c0").then(92.0).otherwise(94.0))

    assert _refusal(facts) == (
        "water_temp_c differs only between the 2 coffees, never within one, so its effect cannot be told from the "
        "difference between them. Brew one coffee at two settings, brew at least 5 coffees, or leave it out."
    )


def test_a_factor_that_only_differs_between_four_coffees_is_refused_and_between_five_is_not(make_trial):
    def aged(coffees: int) -> pl.DataFrame:
        facts = make_trial(seed=1, coffees=coffees)
        return facts.with_columns(days_off_roast=7 + 3 * pl.col("coffee_id").str.tail(1).cast(pl.Int64))

    factors = ("grind_steps_finer", "days_off_roast")
    assert _refusal(aged(4), factors) == (
        "days_off_roast differs only between the 4 coffees, never within one, so its effect cannot be told from the "
        "difference between them. Brew one coffee at two settings, brew at least 5 coffees, or leave it out."
    )
    found = estimate_effects(aged(5), EffectsRequest(YIELD, factors))
    assert found.table.filter(term="days_off_roast")["df"].item() < 4  # three coffees beyond a line through five


def test_a_brew_that_decides_a_term_alone(make_trial):
    facts = make_trial(seed=1, coffees=1)

    assert _refusal(facts.with_columns(channeled=pl.col("brew_id") == "b041")) == (
        "1 brew decides an effect alone (b041), so nothing tells how sure it is. "
        "Brew more like it, or leave that factor out."
    )


@pytest.mark.parametrize("coffees", [1, 4])
def test_values_without_scatter_look_computed(make_trial, coffees):
    facts = make_trial(seed=1, coffees=coffees, noise=0.0)

    assert _refusal(facts) == (
        "The factors give extraction_yield_pct back exactly, without any scatter, so it looks computed rather than "
        "measured and no uncertainty can be stated. Check where these values come from."
    )


def test_a_mixed_model_without_a_fit_shows_no_number(make_trial, monkeypatch):
    from analysis.effects import fit_in_order
    from analysis.effects.fit import NoFit

    monkeypatch.setattr(fit_in_order, "fit_random", lambda *_, **__: NoFit("the mixed model did not converge"))

    assert _refusal(make_trial(seed=1, coffees=3)) == (
        "No effect can be shown: the mixed model did not converge. Leave a factor out, or brew more."
    )


def test_the_closed_lists_name_columns_of_the_facts():
    from analysis.effects.factors import FACTORS, GROUPS, RESPONSES
    from schemas.reports import FACT_COLUMNS

    assert {*FACTORS, *GROUPS, *RESPONSES} <= set(FACT_COLUMNS)
    assert not {"grind_dial", "grind_setting", "grind_zero"} & set(FACTORS)  # dial numbers are never pooled


def test_a_cross_with_a_factor_that_stands_still_on_one_grinder(make_trial):
    """On g0 the temperature is always the mean of all brews, so the product is zero there."""
    facts = make_trial(seed=1, coffees=1, grinders=2)
    k = pl.int_range(pl.len()).over("grinder_id")
    other = facts.filter(grinder_id="g1").height // 2 * 2
    temp = pl.when(grinder_id="g0").then(93.1).when(k < other).then(93.1 + 2 * (k % 2) - 1).otherwise(93.1)

    assert _refusal(
        facts.with_columns(water_temp_c=temp),
        ("grind_steps_finer", "water_temp_c"),
        crosses=("grind_steps_finer:water_temp_c",),
    ) == (
        "grind_steps_finer:water_temp_c on g0 cannot be judged: in these brews one of the two stood at its average "
        "whenever the other did not. Leave that cross out."
    )


def test_factors_tied_within_every_one_of_few_coffees_are_refused(make_facts):
    """Only the coffees' own levels would tell them apart: grind is counted from each coffee's reference."""
    grind = np.tile([-1.0, 0.0, 1.0, 2.0], 6)
    coffee = np.repeat(np.arange(3), 8)
    facts = make_facts(
        24,
        coffee_id=[f"c{k}" for k in coffee],
        grind_steps_finer=grind,
        water_temp_c=92 + grind + 0.5 * coffee,
        extraction_yield_pct=20 + 0.3 * grind + np.random.default_rng(1).normal(scale=0.5, size=24),
    )
    with pytest.raises(ProblemError, match="grind_steps_finer and water_temp_c always move together within each of"):
        estimate_effects(facts, EffectsRequest("extraction_yield_pct", ("grind_steps_finer", "water_temp_c")))
