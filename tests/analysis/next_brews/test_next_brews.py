from __future__ import annotations

import math
from dataclasses import dataclass, replace

import polars as pl
import pytest
from statsmodels.stats.power import TTestIndPower

from analysis.diagnostics.report import Diagnosis
from analysis.diagnostics.together import TOPIC as TOGETHER
from analysis.effects.words import NOT_STATED
from analysis.findings import Finding
from analysis.next_brews.answer import next_brews
from analysis.next_brews.choose import open_effect
from analysis.next_brews.result import MOST_ROWS
from analysis.next_brews.state import MethodState, Trial
from analysis.planning.answers import recipes_answer
from analysis.planning.factors import PlanFactor
from analysis.planning.noise import Noise

ROW = {
    "term": "water_temp_c", "per": "1 C", "step": 1.0, "estimate": 0.1, "low": -0.3, "high": 0.5, "n_brews": 40,
    "n_coffees": 3,
}  # fmt: skip
GRIND = ROW | {"term": "grind_steps_finer", "per": "1 step", "estimate": 0.4, "low": 0.3, "high": 0.5}
RATIO = ROW | {"term": "beverage_ratio", "per": "0.1 g/g", "step": 0.1, "low": -2.0, "high": 2.5}


@dataclass(frozen=True)
class Effects:
    """Stands in for an effects result."""

    table: pl.DataFrame
    sentences: tuple[str, ...]
    notes: tuple[str, ...] = ()
    n_brews: int = 40


def effects(*rows, notes=()):
    return Effects(pl.DataFrame(rows), tuple(row["term"] for row in rows), notes)


def state(**more):
    base = MethodState(
        method="pour_over", n_brews=44, n_yields=40, n_sure=40, why_unsure="", n_coffees=3, n_in_doubt=0,
        difference=0.5, is_declared=False, effects=effects(GRIND),
    )  # fmt: skip
    return replace(base, **more)


def trial(sd=0.5, difference=0.5):
    noise = Noise(sd, df=30)
    answer = recipes_answer(noise, response="extraction_yield_pct", difference=difference)
    return Trial(ROW, PlanFactor("water_temp_c", 90, 96, 1), None, answer, sd, noise.interval())


def test_an_empty_project_is_told_to_log_brews():
    found = next_brews([])

    assert found.is_blocked
    assert "no brews yet" in found.paragraph


@pytest.mark.parametrize(
    ("more", "said"),
    [
        ({"n_yields": 0, "n_sure": 0, "effects": None}, "None of the 44 brews of pour over has an extraction yield"),
        ({"effects": None, "refusal": "Too few brews."}, "Pour over cannot be compared yet. Too few brews."),
        ({"n_sure": 0, "why_unsure": "the scale is not named"}, "No yield of pour over has an uncertainty"),
        ({"n_coffees": 1}, "All 40 brews of pour over are of one coffee"),
        ({"n_in_doubt": 10}, "10 of 40 yields (25 %) were read between a check that failed"),
        (
            {"effects": effects(GRIND, notes=("2 brews count as they stand with a yield outside 8 to 28 %: b-04 at "
             "31.0 %. Check their records first.",))},
            "Check records of pour over first: 2 brews count as they stand",
        ),
    ],
)  # fmt: skip
def test_obstacles_come_before_any_brew(more, said):
    found = next_brews([state(trial=trial(), **more)])

    assert found.is_blocked
    assert said in found.paragraph
    assert found.rows[0].method == "pour over"


def test_an_obstacle_in_one_method_leaves_another_to_brew_meanwhile():
    found = next_brews([state(n_in_doubt=10), state(method="espresso", n_brews=30, trial=trial())])

    assert found.is_blocked
    assert "Meanwhile: brew espresso next" in found.paragraph


def test_a_few_doubtful_readings_stop_nothing():
    assert not next_brews([state(n_in_doubt=2, trial=trial())]).is_blocked


def test_an_open_setting_is_brewed_as_often_as_the_exact_power_of_the_t_test_asks():
    found = next_brews([state(trial=trial(sd=0.5))])

    # statsmodels: noncentral t, a difference of one standard deviation, 5 % two-sided, 80 %.
    each = math.ceil(TTestIndPower().solve_power(effect_size=1.0, alpha=0.05, power=0.8))
    assert found.rows[0].how_many == f"{2 * each} brews, half at each"
    assert found.rows[0].what == "Water temperature: 90 °C against 96 °C, one coffee, mixed order"
    assert "1 °C hotter could mean anything from -0.30 to +0.50 points (95 % interval, 40 brews of 3 coffees)" in (
        found.paragraph
    )
    assert "taken as what matters, since no study declares it" in found.paragraph


def test_a_log_that_scatters_widely_is_told_to_find_that_first():
    found = next_brews([state(trial=trial(sd=3.0))])

    assert "find what scatters" in found.paragraph
    assert "scatter by 3.00 points" in found.paragraph


def test_settled_settings_ask_for_repeats_of_the_chosen_recipe():
    found = next_brews([state()])

    assert "3 repeats of the recipe you would choose" in found.paragraph


def test_whether_more_readings_help_follows_from_the_share_of_measuring():
    few, much = (next_brews([state(trial=trial(), measuring=share)]).paragraph for share in (0.04, 0.7))

    assert "4 %" in few
    assert "more brews will help, more readings will not" in few
    assert "more readings of each brew will help as much as more brews" in much


def test_a_method_brewed_seldom_does_not_speak():
    found = next_brews([state(trial=trial()), state(method="cold_brew", n_brews=5, n_yields=0, n_sure=0, effects=None)])

    assert not found.is_blocked
    assert {row.method for row in found.rows} == {"pour over"}


def test_there_are_never_more_than_five_rows():
    many = [state(method=name, n_in_doubt=30, trial=trial()) for name in ("espresso", "pour_over", "moka", "immersion")]

    assert len(next_brews(many).rows) == MOST_ROWS


def test_the_widest_open_setting_is_chosen_and_what_shares_weights_comes_last():
    wide = ROW | {"low": -0.9, "high": 0.2}
    found = open_effect(effects(GRIND, RATIO, wide), difference=0.5)

    assert found.factor.name == "water_temp_c"
    assert open_effect(effects(GRIND), difference=0.5) is None
    assert open_effect(effects(GRIND | {"low": 0.1, "high": 0.9}), difference=0.5).factor.name == "grind_steps_finer"
    unstated = replace(effects(wide), sentences=(f"1 C hotter{NOT_STATED}",))
    assert open_effect(unstated, difference=0.5) is None


def test_an_effect_whose_ends_differ_by_more_than_matters_is_told() -> None:
    # 0.46 to 1.11 points a step: over the two steps brewed at least 0.92, beyond the 0.5 that matter.
    told = GRIND | {"low": 0.46, "high": 1.11}
    assert open_effect(effects(told), difference=0.5, steps=lambda _: 2.0) is None
    assert open_effect(effects(told), difference=1.0, steps=lambda _: 2.0) is not None


def test_no_word_claims_more_than_a_log_can_tell():
    states = [state(trial=trial(), measuring=0.2), state(n_coffees=1), state(n_yields=0, effects=None)]
    said = " ".join(next_brews([one]).paragraph for one in states).lower()

    assert "caused" not in said
    assert "no effect" not in said


def test_settings_that_moved_together_are_told_apart_before_an_open_one_is_pursued():
    finding = Finding(TOGETHER, "stands in the way", "grind and ratio moved together, r = 0.94.", "Part them.")
    diagnosis = Diagnosis((finding,), "", "cannot", (), {}, 40, 3)
    found = next_brews([state(diagnosis=diagnosis, added=made_up_added(), trial=trial())])

    assert "come apart" in found.paragraph
    assert "by r +0.20 instead of +0.94 (40 brews so far)" in found.paragraph
    assert found.rows[0].what == "Grind -2 steps and water temperature 96 °C, c1"
    assert found.rows[0].how_many == "2 brews"


def made_up_added():
    from types import SimpleNamespace

    factors = (PlanFactor("grind_steps_finer", -2, 2, 1), PlanFactor("water_temp_c", 90, 96, 1))
    runs = [SimpleNamespace(coffee_id="c1", settings=(-2.0, 96.0))] * 2
    runs += [SimpleNamespace(coffee_id="c1", settings=(2.0, 90.0))]
    pair = SimpleNamespace(first="grind", second="water temperature", before=0.94, after=0.2)
    return SimpleNamespace(plan=SimpleNamespace(runs=runs, factors=factors), n_brewed=40, pairs=(pair,))
