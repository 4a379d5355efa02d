"""Which levels and slopes are random: crossed, nested, alike, too few; and the crossed fit against lmerTest."""

from __future__ import annotations

import numpy as np
import polars as pl
import pytest

from analysis.effects.design import build_design
from analysis.effects.estimate import estimate_effects
from analysis.effects.request import EffectsRequest
from analysis.effects.structure import random_structure

YIELD = "extraction_yield_pct"


def _structure(facts: pl.DataFrame, *factors: str, **more):
    request = EffectsRequest(YIELD, factors, **more.pop("asked", {}))
    return random_structure(facts, request, build_design(facts, request, ()), **more)


def _names(facts: pl.DataFrame, *factors: str, **more) -> list[str]:
    return [part.name for part in _structure(facts, *factors, **more).parts]


@pytest.fixture
def crossed(make_facts, reference) -> pl.DataFrame:
    """96 brews of tests/reference/effects_random: 6 coffees, 3 operators, 9 sessions."""
    data = reference("effects_random/inputs.csv")
    return make_facts(
        data.height,
        coffee_id=data["coffee"],
        operator=data["operator"],
        session_id=data["session"],
        grind_steps_finer=data["grind"],
        water_temp_c=data["temp"],
        extraction_yield_pct=data["y"],
    )


def test_coffee_operator_and_session_cross_and_slopes_differ_as_in_lmertest(crossed, reference):
    expected = reference("effects_random/expected.csv").filter(case="crossed")
    result = estimate_effects(crossed, EffectsRequest(YIELD, ("grind_steps_finer", "water_temp_c")))
    intercept_first = pl.concat([result.table.tail(1), result.table.head(-1)])

    for name, rel in (("estimate", 1e-4), ("std_error", 1e-4), ("df", 1e-3), ("p_value", 1e-3)):
        outside = expected.filter(quantity=name)["value"].to_numpy()
        assert intercept_first[name].to_numpy() == pytest.approx(outside, rel=rel)
    sd = dict(expected.filter(quantity="sd").select("term", "value").iter_rows())
    assert result.components == pytest.approx(
        {
            "coffee": sd["coffee.2 (Intercept)"],
            "operator": sd["operator (Intercept)"],
            "session": sd["session (Intercept)"],
            "grind_steps_finer by coffee": sd["coffee.1 g"],
            "brew to brew": sd["Residual NA"],
        },
        rel=1e-3,
    )
    # lme4 finds no spread between the slopes of temperature either: only that one goes, and is named.
    assert sd["coffee t"] == 0
    assert result.dropped_components == ("water_temp_c by coffee",)
    assert (
        "one intercept per coffee, per operator and per session, a slope of grind_steps_finer by coffee (REML)"
        in result.model
    )
    assert (
        "the spread of the slope of water_temp_c by coffee came out as zero, so only that was dropped" in result.model
    )
    grind, temp = result.alike
    assert grind.statistic == pytest.approx(expected.filter(quantity="drop")["value"].item(), rel=1e-3)
    assert grind.differs
    assert not temp.differs
    assert any(note.startswith("Coffees answer grind_steps_finer differently (p under 0.001)") for note in result.notes)


def test_five_coffees_have_slopes_and_four_do_not(make_trial):
    five, four = make_trial(seed=1, coffees=5), make_trial(seed=1, coffees=4)

    assert _names(five, "grind_steps_finer") == ["coffee", "grind_steps_finer by coffee"]
    assert _structure(five, "grind_steps_finer").scope == "for coffees like these"
    assert _names(four, "grind_steps_finer") == ["coffee"]
    assert _structure(four, "grind_steps_finer").scope == "for these coffees"
    assert _structure(make_trial(seed=1, coffees=1), "grind_steps_finer").scope == "for this coffee"


def test_a_factor_that_moved_within_four_of_six_coffees_speaks_for_these(make_trial):
    still = pl.col("coffee_id").is_in(["c4", "c5"])
    facts = make_trial(seed=1).with_columns(water_temp_c=pl.when(still).then(93.0).otherwise("water_temp_c"))
    found = _structure(facts, "grind_steps_finer", "water_temp_c")

    assert [part.name for part in found.parts] == ["coffee", "grind_steps_finer by coffee"]
    assert found.term_scopes == ("for coffees like these", "for these coffees", "for coffees like these")
    assert found.scope == "for these coffees"


def test_a_session_per_coffee_counts_once(make_trial):
    found = _structure(make_trial(seed=1).with_columns(session_id=pl.col("coffee_id") + "-day"), "grind_steps_finer")

    assert [part.name for part in found.parts] == ["coffee", "grind_steps_finer by coffee"]
    assert "session and coffee divide these brews alike: their levels count once, as coffee." in found.notes


def test_sessions_within_coffees_are_recognised(make_trial):
    facts = make_trial(seed=1).with_columns(
        session_id=pl.col("coffee_id") + pl.when(pl.int_range(pl.len()) < 45).then(pl.lit("a")).otherwise(pl.lit("b"))
    )
    found = _structure(facts, "water_temp_c")

    assert [part.name for part in found.parts] == ["coffee", "session", "water_temp_c by coffee"]
    assert "Every session belongs to one coffee: sessions are taken within coffees." in found.notes


@pytest.mark.parametrize(
    ("operators", "note"),
    [
        (
            ["a", "b"],
            "2 operators are too few to judge how far operators differ, so none has a level of its own: a difference "
            "between them can pass for an effect. Look: brewtrials compare --by operator.",
        ),
        (["a", "b", None], "The operator is known for only 60 of 90 brews: its levels are not modelled."),
        (["a"], None),
    ],
)
def test_operators_that_get_no_level(make_trial, operators, note):
    facts = make_trial(seed=1).with_columns(operator=pl.Series((operators * 90)[:90], dtype=pl.String))
    found = _structure(facts, "water_temp_c")

    assert [part.name for part in found.parts] == ["coffee", "water_temp_c by coffee"]
    assert found.notes == (() if note is None else (note,))


def test_blocks_of_a_plan_get_a_level(make_trial):
    facts = make_trial(seed=1).with_columns(block=pl.Series([f"k{n % 4}" for n in range(90)]))

    assert "block" not in _names(facts, "water_temp_c")
    assert "block" in _names(facts, "water_temp_c", blocks=("block",))


def test_whole_plots_are_runs_at_one_setting(make_facts):
    """Four settings of the temperature, three brews each; the second and third share 93 C but a session apart."""
    temp = np.repeat([91.0, 93.0, 93.0, 95.0], 3)
    facts = make_facts(
        12,
        session_id=["s1"] * 6 + ["s2"] * 6,
        water_temp_c=temp,
        grind_steps_finer=[-1.0, 0, 1] * 4,
        extraction_yield_pct=20 + np.arange(12) % 5,
    )
    found = _structure(facts, "grind_steps_finer", "water_temp_c", whole_plot=("water_temp_c",))

    (part,) = found.parts
    assert part.name == "whole plot"
    assert part.codes.tolist() == [0, 0, 0, 1, 1, 1, 2, 2, 2, 3, 3, 3]
    assert found.notes[-1] == "water_temp_c stayed put between neighbouring brews: 4 settings of it, each a whole plot."


def test_a_setting_changed_before_every_brew_makes_no_whole_plots(make_trial):
    facts = make_trial(seed=1).with_columns(water_temp_c=90 + pl.int_range(pl.len()) % 4 * 1.0)
    found = _structure(facts, "water_temp_c", whole_plot=("water_temp_c",))

    assert "whole plot" not in [part.name for part in found.parts]
    assert "water_temp_c changed before every brew, so there are no whole plots." in found.notes


def test_a_split_plot_is_judged_by_its_whole_plots(make_facts):
    """Balanced: 12 whole plots of 4 brews, temperature set per whole plot.

    The textbook analysis compares the means of whole plots: 10 degrees of freedom, the standard error from their own
    scatter (Montgomery, Design and Analysis of Experiments, split-plot designs).
    """
    rng = np.random.default_rng(4)
    plot = np.repeat(np.arange(12), 4)
    temp = np.where(np.arange(12) % 2 == 0, 91.0, 95.0)
    grind = np.tile([-1.0, -0.5, 0.5, 1.0], 12)
    y = 20 + 0.4 * grind + 1.0 * rng.normal(size=12)[plot] + 0.3 * rng.normal(size=48)
    facts = make_facts(
        48,
        session_id=["s"] * 48,
        water_temp_c=temp[plot],
        grind_steps_finer=grind,
        extraction_yield_pct=y,
    )
    request = EffectsRequest(YIELD, ("grind_steps_finer", "water_temp_c"))
    row = estimate_effects(facts, request, whole_plot=("water_temp_c",)).table.filter(term="water_temp_c")
    means = y.reshape(12, 4).mean(axis=1)
    hot, cool = means[temp == 95], means[temp == 91]
    error = np.sqrt((hot.var(ddof=1) + cool.var(ddof=1)) / 6) / 4

    assert row["estimate"].item() == pytest.approx((hot.mean() - cool.mean()) / 4, rel=1e-6)
    assert row["std_error"].item() == pytest.approx(error, rel=1e-5)
    assert row["df"].item() == pytest.approx(10, rel=1e-3)


def test_each_of_three_coffees_has_its_own_slope_as_in_r(crossed, reference):
    """Least squares with a level for each coffee; sessions and operators left out, as in the R script."""
    expected = reference("effects_random/expected.csv").filter(case="three")
    facts = crossed.filter(pl.col("coffee_id").is_in(["c1", "c2", "c3"])).with_columns(
        operator=pl.lit(None, pl.String), session_id=pl.lit(None, pl.String)
    )
    result = estimate_effects(facts, EffectsRequest(YIELD, ("grind_steps_finer", "water_temp_c")))
    slopes = result.slopes_by_coffee.filter(term="grind_steps_finer")

    for name in ("estimate", "std_error"):
        assert slopes[name].to_numpy() == pytest.approx(expected.filter(quantity=name)["value"].to_numpy(), rel=1e-9)
    outside = dict(expected.filter(term="g").select("quantity", "value").iter_rows())
    grind = result.alike[0]
    assert grind.test == "F"
    assert [grind.statistic, grind.p_value, grind.df_den] == pytest.approx(
        [outside["F"], outside["p_F"], outside["df_den"]], rel=1e-9
    )
    assert result.coffee_sentences[0].startswith("c1: one step finer: +0.8 points, 95 % interval 0.4 to 1.1, ")
    assert result.coffee_sentences[0].endswith(" brews, for this coffee")
