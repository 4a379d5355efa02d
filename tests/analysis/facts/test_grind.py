"""Dial steps finer than a reference, within coffee, grinder and method."""

import pytest

from schemas.lab import GrindReference, LabSettings

LOWER = {"grinder_id": "g1", "finer_is": "lower", "step_um": 12.5}
HIGHER = {"grinder_id": "g2", "finer_is": "higher"}


def grind(facts):
    return facts.sort("brew_id").select("grind_dial", "grind_zero", "grind_steps_finer", "grind_um_finer").rows()


def test_zero_is_the_median_and_lower_is_finer(facts_of):
    facts = facts_of([LOWER | {"grind_setting": dial} for dial in ("10", "12", "15")])
    assert grind(facts) == [(10, 12, 2, 25), (12, 12, 0, 0), (15, 12, -3, -37.5)]
    assert facts["grind_reference_note"].unique().to_list() == ["median of 3 brews"]


def test_where_higher_is_finer_the_sign_turns_and_without_step_there_is_no_length(facts_of):
    facts = facts_of([HIGHER | {"grind_setting": dial} for dial in ("10", "12", "15")])
    assert grind(facts) == [(10, 12, -2, None), (12, 12, 0, None), (15, 12, 3, None)]


def test_coffee_grinder_and_method_have_their_own_zero(facts_of):
    facts = facts_of(
        [
            LOWER | {"grind_setting": "10"},
            LOWER | {"grind_setting": "20", "coffee_id": "c2"},
            LOWER | {"grind_setting": "30", "method": "moka"},
            HIGHER | {"grind_setting": "40"},
        ]
    )
    assert facts.sort("brew_id")["grind_steps_finer"].to_list() == [0, 0, 0, 0]


def test_void_brews_do_not_set_the_zero_but_have_steps(facts_of):
    facts = facts_of([LOWER | {"grind_setting": "10"}, LOWER | {"grind_setting": "16", "void_reason": "wrong dial"}])
    assert grind(facts) == [(10, 10, 0, 0), (16, 10, -6, -75)]


def test_a_declared_reference_wins_and_is_read_on_the_grinders_dial(facts_of):
    lab = LabSettings(grind_references=(GrindReference("c1", "g1", "espresso", "3+4"),))
    facts = facts_of([LOWER | {"grind_setting": "3+2", "dial": "8"}], settings=lab)
    assert grind(facts) == [(3.25, 3.5, 0.25, 3.125)]
    assert facts["grind_reference_note"].item() == "declared: 3+4"


def test_a_declared_reference_that_cannot_be_read_gives_way_to_the_median(facts_of):
    lab = LabSettings(grind_references=(GrindReference("c1", "g1", "espresso", "fine"),))
    facts = facts_of([LOWER | {"grind_setting": "10"}], settings=lab)
    assert facts["grind_reference_note"].item() == "median of 1 brew"


@pytest.mark.parametrize(
    "brew",
    [
        {"grinder_id": "g3", "grind_setting": "10"},
        {"grind_setting": "10", "finer_is": "lower"},
        LOWER | {"grind_setting": "2.5.1"},
        LOWER,
    ],
)
def test_steps_are_null_where_direction_grinder_or_dial_is_unknown(fact_of, brew):
    fact = fact_of(brew)
    assert (fact["grind_steps_finer"], fact["grind_um_finer"]) == (None, None)
