"""Plans are balanced, random where they may be, and keep still what is hard to change: by counting."""

from __future__ import annotations

import sys
from collections import Counter
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).parent))

from plans import GRIND, HARD_TEMP, RATIO, TEMP, asked, planned

from analysis.planning.factors import PlanFactor
from analysis.planning.plan import make_plan
from schemas.problem import ProblemError
from schemas.study import Condition, Impossible

SEEDS = (1, 2, 3)


@pytest.mark.parametrize("seed", SEEDS)
def test_every_coffee_gets_every_combination_as_often_as_asked(seed: int) -> None:
    plan = planned(GRIND, RATIO, seed=seed, replicates=2, sessions=2)

    counts = Counter((run.coffee_id, run.settings) for run in plan.runs)
    assert len(counts) == 2 * 4
    assert set(counts.values()) == {2}


@pytest.mark.parametrize("seed", SEEDS)
def test_sessions_are_equal_in_size_and_share_every_setting_evenly(seed: int) -> None:
    plan = planned(GRIND, TEMP, RATIO, seed=seed, replicates=2, sessions=4)

    assert Counter(run.session for run in plan.runs) == {1: 8, 2: 8, 3: 8, 4: 8}
    for j, factor in enumerate(plan.factors):
        in_session = Counter((run.session, run.settings[j]) for run in plan.runs)
        assert set(in_session.values()) == {4}, factor.name
    assert set(Counter((run.session, run.coffee_id) for run in plan.runs).values()) == {4}


@pytest.mark.parametrize("seed", SEEDS)
def test_a_half_of_the_combinations_in_two_sessions_hides_no_single_effect(seed: int) -> None:
    # Four runs a coffee in two sessions: each session must hold low and high of every setting as often.
    plan = planned(GRIND, TEMP, RATIO, seed=seed, design="fractional", n_runs=4, sessions=2)

    x = plan.layout().x[:, :3]
    session = np.array([run.session for run in plan.runs])
    assert all(np.allclose(x[session == one].mean(axis=0), 0) for one in (1, 2))


def test_the_order_is_random_and_the_seed_gives_it_back() -> None:
    orders = [tuple(run.settings for run in planned(GRIND, TEMP, seed=seed, replicates=3).runs) for seed in range(8)]

    assert len(set(orders)) == 8
    assert orders[3] == tuple(run.settings for run in planned(GRIND, TEMP, seed=3, replicates=3).runs)
    # Every place of the order is reached by both levels: nothing is always brewed first.
    first = {order[0][0] for order in orders}
    assert first == {-2.0, 2.0}


def test_places_count_from_one_in_every_session() -> None:
    plan = planned(GRIND, TEMP, replicates=2, sessions=2)

    for session in (1, 2):
        assert [run.place for run in plan.runs if run.session == session] == list(range(1, 9))


@pytest.mark.parametrize("seed", SEEDS)
def test_what_is_hard_to_change_stays_put_within_a_whole_plot(seed: int) -> None:
    plan = planned(GRIND, HARD_TEMP, RATIO, seed=seed, replicates=2, sessions=2)

    for session in (1, 2):
        temps = [run.settings[1] for run in plan.runs if run.session == session]
        assert sum(a != b for a, b in pairwise(temps)) == 1
    assert len({run.whole_plot for run in plan.runs}) == 4
    assert all(len({run.settings[1] for run in plan.runs if run.whole_plot == plot}) == 1 for plot in (1, 2, 3, 4))
    # Within whole plots the others are still shuffled, and every plot has both coffees evenly.
    assert set(Counter((run.whole_plot, run.coffee_id) for run in plan.runs).values()) == {4}


def test_setting_it_anew_more_often_makes_more_whole_plots() -> None:
    once, twice = (planned(GRIND, HARD_TEMP, replicates=2, sessions=2, resets=resets) for resets in (1, 2))

    assert len({run.whole_plot for run in once.runs}) == 4
    assert len({run.whole_plot for run in twice.runs}) == 8
    assert "stays put within 8 whole plots of 16 brews" in twice.notes[-1]


def test_a_coffee_that_is_hard_to_change_is_brewed_in_one_go() -> None:
    plan = planned(GRIND, TEMP, coffee_hard_to_change=True)

    assert sum(a.coffee_id != b.coffee_id for a, b in pairwise(plan.runs)) == 1
    assert plan.hard == ("coffee_id",)


@pytest.mark.parametrize("coffees", [("ostrin",), ("ostrin", "calmuth", "pirolo")])
def test_a_latin_square_brews_every_level_once_a_session_and_once_a_coffee_or_place(coffees: tuple[str, ...]) -> None:
    plan = planned(GRIND, design="square", coffees=coffees, replicates=2)

    assert len(plan.runs) == 18
    assert set(Counter((run.session, run.settings) for run in plan.runs).values()) == {1}
    across = [(run.coffee_id if len(coffees) > 1 else run.place, run.settings) for run in plan.runs]
    assert set(Counter(across).values()) == {2}


def test_an_optimal_plan_goes_round_what_cannot_be_brewed() -> None:
    chokes = Impossible((Condition("grind_steps_finer", at_least=1), Condition("water_temp_c", at_most=92)), "chokes")
    plan = planned(
        GRIND, TEMP, design="optimal", n_runs=12, crosses=("grind_steps_finer:water_temp_c",), impossible=(chokes,)
    )

    assert len(plan.runs) == 12
    assert not any(run.settings[0] >= 1 and run.settings[1] <= 92 for run in plan.runs)
    assert {run.settings[0] for run in plan.runs} >= {-2.0, 2.0}


def test_settings_are_what_dial_and_kettle_can_do() -> None:
    plan = planned(
        PlanFactor("grind_steps_finer", -1, 2, 0.5), PlanFactor("water_temp_c", 90, 95, 1), design="composite"
    )

    assert all((run.settings[0] + 1) / 0.5 == round((run.settings[0] + 1) / 0.5) for run in plan.runs)
    assert all(run.settings[1] == round(run.settings[1]) for run in plan.runs)
    assert any("was rounded to what can be set" in note for note in plan.notes)


def test_declared_levels_are_brewed_as_they_are() -> None:
    uneven = PlanFactor("water_temp_c", 88, 96, 1, settings=(88, 90, 96))
    plan = planned(GRIND, uneven)

    assert Counter(run.settings[1] for run in plan.runs) == {88: 4, 90: 4, 96: 4}
    assert "water_temp_c^2" in plan.model.names


@pytest.mark.parametrize(
    ("request_", "said"),
    [
        (asked(GRIND, coffees=()), "No coffee is named"),
        (asked(GRIND, coffees=("ostrin", "ostrin")), "ostrin is named twice"),
        (asked(), "No setting is named"),
        (asked(GRIND, GRIND), "grind_steps_finer is named twice"),
        (asked(PlanFactor("water_temp_c", 92, 92, 1)), "has one level, 92"),
        (asked(PlanFactor("water_temp_c", 96, 90, 1)), "write the smaller number first"),
        (asked(PlanFactor("water_temp_c", 90, 96, 0)), "must be a number above 0"),
        (asked(PlanFactor("water_temp_c", 90, 96, 8)), "no second setting in steps of 8"),
        (asked(PlanFactor("water_temp_c", 90, float("nan"), 1)), "needs numbers"),
        (asked(PlanFactor("water_temp", 90, 96, 1)), "did you mean water_temp_c?"),
        (asked(PlanFactor("brew_time_s", 25, 35, 1)), "is a result of grind, dose and preparation"),
        (asked(GRIND, method="expresso"), "did you mean espresso?"),
        (asked(GRIND, TEMP, RATIO, design="optimal", n_runs=3), "3 brews cannot tell 3 settings apart"),
        (asked(GRIND, TEMP, RATIO, design="fractional", n_runs=2), "2 brews cannot tell 3 settings apart"),
        (asked(GRIND, design="optimal"), "add --runs N"),
        (asked(GRIND, design="full", n_runs=8), "--runs goes with optimal and fractional"),
        (asked(GRIND, TEMP, design="square"), "varies one setting, not 2"),
        (asked(GRIND, design="square", coffees=("a", "b")), "2 coffees is neither"),
        (asked(GRIND, TEMP, replicates=0), "counted from 1"),
        (asked(GRIND, TEMP, sessions=9), "8 brews cannot be spread over 9 sessions"),
    ],
)  # fmt: skip
def test_what_cannot_be_planned_is_refused_plainly(request_, said: str) -> None:
    with pytest.raises(ProblemError) as refused:
        make_plan(request_, rng=np.random.default_rng(1))

    assert said in str(refused.value)


def test_impossible_settings_that_leave_nothing_or_break_a_design_are_refused() -> None:
    everything = Impossible((Condition("water_temp_c", at_least=90),))
    with pytest.raises(ProblemError, match="All 25 settings in the range are called impossible"):
        planned(GRIND, TEMP, design="optimal", n_runs=8, impossible=(everything,))

    corner = Impossible((Condition("water_temp_c", at_most=90), Condition("grind_steps_finer", at_least=2)))
    with pytest.raises(ProblemError, match="1 of 4 planned brews are called impossible"):
        planned(GRIND, TEMP, impossible=(corner,))
