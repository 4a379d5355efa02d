"""What is said of a plan: sizes, what it cannot tell, and never more than a plan may claim."""

from __future__ import annotations

import re
import sys
from dataclasses import replace
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))

from plans import GRIND, HARD_TEMP, RATIO, TEMP, planned

from analysis.planning.noise import given_noise
from analysis.planning.tells import what_it_tells
from analysis.planning.words import cannot_sentences, plan_sentences, range_words, setting_words

NOISE = given_noise(0.5, "extraction_yield_pct")


def cannot(plan) -> str:
    return " ".join(cannot_sentences(plan, what_it_tells(plan.model, plan.layout(), NOISE)))


def test_settings_and_ranges_are_told_in_the_trade_s_words() -> None:
    assert range_words(GRIND) == "grind from 2 steps coarser to 2 steps finer"
    assert range_words(TEMP) == "water temperature from 90 C to 96 C"
    assert setting_words(GRIND, 0.0) == "the reference"
    assert setting_words(RATIO, 2.0) == "2 g/g"


def test_a_plan_says_its_size_its_order_and_its_seed() -> None:
    said = plan_sentences(planned(GRIND, HARD_TEMP, replicates=2, sessions=2), seed=7)

    assert said[0] == "16 brews of 2 coffees in 2 sessions: full factorial: every combination."
    assert "Order drawn at random within each session and whole plot, seed 7." in said
    many = " ".join(plan_sentences(planned(GRIND, TEMP, replicates=4), seed=1))
    assert "32 brews in one session are many; spread them with --block session=2." in many


def test_two_levels_do_not_show_a_bend_and_three_do() -> None:
    assert "Whether the line bends will not be seen for grind and beverage ratio." in cannot(planned(GRIND, RATIO))
    assert "bends" not in cannot(planned(replace(GRIND, curve=True), replace(RATIO, curve=True)))


def test_a_fraction_names_what_it_mixes_up() -> None:
    said = cannot(planned(GRIND, TEMP, RATIO, design="fractional", n_runs=4))

    assert "Cannot be told apart: grind and water temperature x beverage ratio." in said


def test_a_setting_set_too_seldom_is_said_to_rest_on_little() -> None:
    assert "Water temperature would rest on 1 degree of freedom" in cannot(
        planned(GRIND, HARD_TEMP, replicates=2, sessions=2)
    )
    assert "would rest on" not in cannot(planned(GRIND, HARD_TEMP, replicates=4, sessions=4, resets=2))
    assert "Nothing would be left to judge grind by" in cannot(planned(GRIND, TEMP, coffees=("ostrin",)))


def test_what_cannot_be_told_at_all_is_said() -> None:
    plan = planned(GRIND, TEMP, coffees=("ostrin",), sessions=4)

    assert what_it_tells(plan.model, plan.layout(), NOISE) is None
    assert "these brews cannot tell all of this apart" in cannot(plan)


def test_products_that_are_not_planned_for_are_named() -> None:
    assert "How two settings work together is not planned for" in cannot(
        planned(GRIND, RATIO, design="optimal", n_runs=10)
    )


@pytest.mark.parametrize("design", ["full", "fractional", "composite", "box-behnken", "optimal"])
def test_no_plan_promises_causes_or_the_absence_of_effects(design: str) -> None:
    n_runs = {"optimal": 14, "fractional": 4}.get(design)
    plan = planned(GRIND, HARD_TEMP, RATIO, design=design, n_runs=n_runs, sessions=2)

    said = " ".join((*plan_sentences(plan, seed=1), cannot(plan)))

    assert not re.search(r"caus|no effect|does not matter|prove", said)
