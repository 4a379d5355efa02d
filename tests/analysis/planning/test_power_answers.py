"""How many brews, and what could be seen, in sentences whose numbers are reckoned again here."""

from __future__ import annotations

import math
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from scipy import stats

sys.path.insert(0, str(Path(__file__).parent))

from plans import GRIND

from analysis.planning.answers import recipes_answer
from analysis.planning.noise import Noise
from analysis.planning.setting import Campaign, brewed_sentence, setting_answer
from analysis.planning.strata import Layout
from schemas.problem import ProblemError

YIELD = "extraction_yield_pct"
NOISE = Noise(0.5, 30.0, said="Brews scatter by 0.5 points.")


def chance(difference: float, error: float, df: float) -> float:
    """Power of a two-sided t test, by SciPy's noncentral t."""
    critical, shift = stats.t.ppf(0.975, df), difference / error
    return float(stats.nct.sf(critical, df, shift) + stats.nct.cdf(-critical, df, shift))


def test_two_recipes_take_cohen_s_brews() -> None:
    # d = 0.5 / 0.5 = 1.0: Cohen's table 2.4.1 has 17 (from memory; R power.t.test 16.71).
    answer = recipes_answer(NOISE, response=YIELD, difference=0.5, brews=10)

    assert answer.needed == 17
    for sd, needed in zip(NOISE.interval(), (answer.needed_low, answer.needed_high), strict=True):
        reached = [chance(0.5, sd * math.sqrt(2 / n), 2 * n - 2) >= 0.8 for n in (needed - 1, needed)]
        assert reached == [False, True]
    assert chance(answer.smallest, 0.5 * math.sqrt(2 / 10), 18) == pytest.approx(0.8, abs=1e-6)
    assert answer.chance == pytest.approx(chance(0.5, 0.5 * math.sqrt(2 / 10), 18), rel=1e-9)
    assert any(
        "To see a difference of 0.50 points between two recipes with a chance of 80 % (two-sided at 5 %), brew each 17 "
        f"times; {answer.needed_low} to {answer.needed_high}" in said
        for said in answer.sentences
    )


def test_several_recipes_take_more() -> None:
    answer = recipes_answer(NOISE, response=YIELD, difference=0.5, recipes=4, brews=20)

    # Extremes 1 sigma apart of four: f = 1 / sqrt(8).
    critical = stats.f.ppf(0.95, 3, 76)
    assert answer.chance == pytest.approx(stats.ncf.sf(critical, 3, 76, 80 / 8), rel=1e-9)
    assert answer.needed > 17
    assert answer.smallest > 0.5 or answer.chance > 0.8


@pytest.mark.parametrize(("coffees", "sessions"), [(1, 1), (3, 2)])
def test_brews_for_a_setting_reach_the_chance_and_two_fewer_rounds_do_not(coffees: int, sessions: int) -> None:
    answer = setting_answer(
        GRIND, NOISE, response=YIELD, difference=0.5, coffees=coffees, sessions=sessions, simulations=0,
        rng=np.random.default_rng(1),
    )  # fmt: skip

    def reached(n: int) -> float:
        return chance(0.5, 2 * 0.5 / math.sqrt(n), n - 1 - coffees - (sessions - 1))

    assert reached(answer.needed) >= 0.8 > reached(answer.needed - 2 * coffees)
    assert answer.simulated is None


def test_coffees_that_differ_are_not_made_up_for_by_more_brews() -> None:
    # Slopes differ by 0.2 points a step, 0.8 over the range of four: on 4 coffees alone 0.4 of standard error, 3 df.
    apart = replace(NOISE, slope_sds=(0.2,))
    answer = setting_answer(
        GRIND, apart, response=YIELD, difference=0.5, coffees=4, brews=40, simulations=0, rng=np.random.default_rng(1)
    )

    assert answer.needed is None
    error = math.sqrt(4 * 0.25 / 40 + 0.8**2 / 4)
    assert answer.chance == pytest.approx(chance(0.5, error, 3), rel=1e-6)
    said = " ".join(answer.sentences)
    assert "No number of brews on 4 coffees in 1 session" in said
    n = int(said.split("It takes about ")[1].split()[0])
    assert chance(0.5, math.sqrt(4 * 0.25 / (8 * n) + 0.64 / n), n - 1) >= 0.8
    assert chance(0.5, math.sqrt(4 * 0.25 / (8 * (n - 1)) + 0.64 / (n - 1)), n - 2) < 0.8


def test_a_simulation_is_told_with_its_own_interval() -> None:
    noisy = replace(NOISE, coffee_sd=1.0, session_sd=0.3)
    answer = setting_answer(
        GRIND, noisy, response=YIELD, difference=0.5, coffees=3, sessions=2, brews=24, simulations=100,
        rng=np.random.default_rng(7),
    )  # fmt: skip

    low, high = stats.binomtest(answer.simulated.seen, 100).proportion_ci(0.95)
    assert f"(95 % interval {100 * low:.0f} to {100 * high:.0f} %)" in answer.sentences[-1]
    assert "Checked by brewing it 100 times on paper with 24 brews" in answer.sentences[-1]


def test_a_campaign_is_balanced() -> None:
    layout = Campaign(24, 3, 2).layout()

    for coffee in range(3):
        assert layout.x[layout.coffees == coffee].sum() == 0
        for session in range(2):
            assert layout.x[(layout.coffees == coffee) & (layout.sessions == session)].sum() == 0


def test_brews_made_so_far_are_weighed_with_what_moved_together() -> None:
    rng = np.random.default_rng(2)
    grind = rng.choice([-1.0, 1.0], 20)
    ratio = grind + 0.1 * rng.standard_normal(20)
    zero = np.zeros(20, dtype=np.int64)

    alone = brewed_sentence(GRIND, Layout(grind[:, None], zero, zero), NOISE, response=YIELD, difference=0.5)
    both = Layout(np.column_stack([grind, ratio]), zero, zero)
    together = brewed_sentence(GRIND, both, NOISE, response=YIELD, difference=0.5)
    same = brewed_sentence(
        GRIND, Layout(np.column_stack([grind, grind]), zero, zero), NOISE, response=YIELD, difference=0.5
    )

    x = np.column_stack([grind, ratio, np.ones(20)])
    error = 2 * 0.5 * math.sqrt(np.linalg.inv(x.T @ x)[0, 0])
    assert f"one of 0.50 with {100 * chance(0.5, error, 17):.0f} %" in together
    assert together != alone
    assert "cannot show it" in same


@pytest.mark.parametrize(
    ("make", "said"),
    [
        (lambda: recipes_answer(NOISE, response=YIELD, difference=0.5, recipes=1), "two recipes or more"),
        (lambda: recipes_answer(NOISE, response=YIELD, difference=0.5, brews=1), "twice or more"),
        (
            lambda: setting_answer(
                GRIND, NOISE, response=YIELD, difference=0.5, coffees=0, rng=np.random.default_rng(1)
            ),
            "counted from 1",
        ),
        (
            lambda: setting_answer(
                GRIND, NOISE, response=YIELD, difference=0.5, coffees=4, brews=4, rng=np.random.default_rng(1)
            ),
            "4 brews are too few for 4 coffees",
        ),
    ],
)
def test_what_cannot_be_answered_is_refused_plainly(make, said: str) -> None:
    with pytest.raises(ProblemError) as refused:
        make()

    assert said in str(refused.value)
