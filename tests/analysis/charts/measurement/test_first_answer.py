"""The first screen's sentences: numbers with n and interval, what stops them, what to do next."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest

from analysis.charts.measurement.first_answer import OpenDoubt, measurement_answer
from analysis.charts.measurement.method_budgets import BudgetLine, MethodBudget, NoBudget
from analysis.charts.measurement.smallest_rows import Comparison, MethodSmallest
from analysis.measurement.calibration import Check
from analysis.measurement.doubt import Doubt
from analysis.measurement.effort import Effort, Purchase
from analysis.measurement.smallest_difference import SmallestDifference
from analysis.measurement.zero_chart import Verdict

LINES = (BudgetLine("TDS bias", "TDS", "B", 0.81, 0.2), BudgetLine("dose bias", "dose", "B", 0.19, 0.1))
AT = datetime(2026, 4, 20, 6, 15, tzinfo=UTC)
FAILED = Verdict(Check(AT, "reference", 1.30, 1.36), False, "tolerance", -0.05, 0.05, 0)


def budget(method="espresso", n=12, half=0.5, lines=LINES):
    return MethodBudget(method, n, half, half, half, lines, (), 0, "")


def difference(about, brews, critical, *purchases):
    effort = Effort(brews=brews, readings_per_sample=2)
    bought = tuple(Purchase(what, 0.1, percent) for what, percent in purchases)
    return Comparison("", SmallestDifference(about, effort, 0.2, 30, critical, 1.4 * critical, bought, ""))


SMALL = MethodSmallest(
    "espresso",
    "R1",
    (difference("two brews measured", 1, 0.3, ("reading", 4.0), ("sample", 22.0)),),
    (difference("two recipes brewed", 3, 1.2, ("reading", 0.1), ("sample", 0.2), ("brew", 13.0)),),
    "",
    "",
    "Brews to one recipe scatter by 0.70 points (standard deviation; 9 brews of 3 recipes).",
    "",
)


def answer(budgets=None, *, without=(), small=(SMALL,), doubts=(), n_brews=12):
    budgets = [budget()] if budgets is None else budgets
    return measurement_answer(budgets, without, small, doubts, n_brews=n_brews, timezone="Europe/Vienna")


def test_the_first_sentence_has_the_number_its_unit_the_level_and_n():
    assert answer().said[0] == (
        "A single espresso yield is good to ±0.50 points (95 % interval; the middle of 12 brews); the largest part of "
        "that is strength: refractometer offset (81 %)."
    )


def test_the_smallest_differences_and_what_more_buys():
    said = " ".join(answer().said)

    assert "differ by up to 0.30 points may be of one and the same coffee" in said
    assert "a true difference of 0.42 points is found in 8 of 10 comparisons" in said
    assert "Two recipes brewed 3 times each may differ by up to 1.20 points by chance" in said
    assert "a true difference of 1.68 points is found in 8 of 10." in said
    assert "9 brews of 3 recipes" in said
    assert (
        "Between two brews, one more sample of each brew takes 22 % and one more reading of each sample 4 % off" in said
    )
    assert "one more brew of each takes 13 % off the uncertainty of a difference, one more sample of each brew" in said
    assert "or one more reading of each sample nothing." in said


def test_other_methods_are_said_in_short():
    methods = ["pour_over", "moka", "cupping", "boiled", "cold_brew"]
    said = answer([budget(), *(budget(method, n=3, half=0.7) for method in methods)]).said

    assert said[1] == (
        "The others: pour over ±0.70 points (3 brews), moka ±0.70 points (3 brews) and cupping ±0.70 points (3 brews); "
        "2 more methods in the table."
    )


def test_the_next_step_follows_from_the_largest_part():
    found = answer()

    assert not found.is_blocked
    assert found.next_step == "To make a single espresso yield better, begin with strength: refractometer offset."
    assert found.reasons == (
        "It makes 81 % of the variance; more readings do not narrow it: check the refractometer against references, "
        "then declare the correction that `brewtrials instruments` works out.",
    )


def test_an_instrument_in_doubt_now_comes_before_everything():
    found = answer(doubts=[OpenDoubt(Doubt("lens-2", "%", FAILED, 1, AT, None), 76, "reading")])

    assert found.is_blocked
    assert found.next_step == "Set lens-2 right before the next brew, then log a check that passes."
    assert "lens-2 failed its reference check on 20 April 2026 08:15" in found.reasons[0]
    assert "76 readings lie in that time and are in doubt." in found.reasons[0]


def test_doubt_that_is_over_is_mentioned_only_where_something_was_read():
    over = Doubt("lens-2", "%", FAILED, 1, AT, AT)
    quiet, loud = (answer(doubts=[OpenDoubt(over, n, "reading")]) for n in (0, 3))

    assert len(quiet.reasons) == 1
    assert loud.reasons[1].startswith(
        "3 readings on lens-2 taken around a failed check, after the last one that passed"
    )


@pytest.mark.parametrize(
    ("without", "n_brews", "said", "step"),
    [
        ((), 0, "There are no brews yet", "Take in a log"),
        ((), 4, "none of the 4 brews has an extraction yield", "Read the strength"),
        ((NoBudget("moka", 1, "no lens"),), 4, "the one yield has an uncertainty", "Name the refractometer"),
        ((NoBudget("moka", 3, "no lens"),), 4, "none of the 3 yields has an uncertainty", "Name the refractometer"),
    ],
)
def test_without_numbers_it_says_so_first_and_what_would_help(without, n_brews, said, step):
    found = answer([], without=without, small=(), n_brews=n_brews)

    assert said in found.said[0]
    assert found.next_step.startswith(step)
    assert found.is_blocked


def test_a_budget_without_any_uncertainty_is_not_taken_for_perfection():
    found = answer([budget(lines=(), half=0.0)])

    assert "every uncertainty entered is 0" in found.next_step
    assert found.said[0].endswith("(95 % interval; the middle of 12 brews).")
