"""The smallest difference worth talking about: on paper, by simulation, and in words."""

import math
from dataclasses import replace

import numpy as np
import pytest

from analysis.measurement.drops import DropScatter
from analysis.measurement.effort import Effort, Purchase
from analysis.measurement.same_recipe import NAMED, RecipeScatter
from analysis.measurement.smallest_difference import smallest_for_brews, smallest_for_recipes, typical_brew
from schemas.problem import ProblemError
from tests.analysis.measurement.made_up_brews import GROUP, espresso, filter_brew

READINGS_ONLY = DropScatter(0.02, 4000, None, None, 0)
DROPS = DropScatter(0.02, 4000, 0.03, math.sqrt(0.03**2 + 0.02**2 / 2), 4000)
RECIPES = RecipeScatter(0.5, 4000, 12, 60, NAMED)
EXACT_MASSES = filter_brew(scale=0.0)  # 16 points of yield per % of strength
STEP = 0.01 / math.sqrt(12)


def bought(found):
    return {purchase.what: purchase for purchase in found.purchases}


def test_two_brews_on_one_instrument_differ_by_scatter_and_display_only():
    found = smallest_for_brews(EXACT_MASSES, READINGS_ONLY, effort=Effort(readings_per_sample=3))
    u = math.sqrt(2) * 16 * math.sqrt(0.02**2 / 3 + STEP**2)

    assert found.u_difference == pytest.approx(u)
    # With 4,000 degrees of freedom or more: 1.96 and 2.80 to two decimals.
    assert found.critical == pytest.approx(1.96 * u, rel=1e-3)
    assert found.detectable == pytest.approx(2.80 * u, rel=2e-3)


def test_on_two_instruments_both_offsets_count():
    found = smallest_for_brews(EXACT_MASSES, READINGS_ONLY, effort=Effort(readings_per_sample=3), one_instrument=False)
    assert found.u_difference == pytest.approx(math.sqrt(2) * 16 * math.sqrt(0.02**2 / 3 + STEP**2 + 0.02**2))
    assert "read on two instruments (their offsets count in full)" in found.rests_on


def test_on_two_scales_both_offsets_count():
    one = smallest_for_brews(filter_brew(), READINGS_ONLY, effort=Effort())
    two = smallest_for_brews(filter_brew(), READINGS_ONLY, effort=Effort(), one_scale=False)
    extra = 2 * ((20 / 18 * 0.05) ** 2 + (1.25 / 18 * 0.05) ** 2)
    assert two.u_difference**2 - one.u_difference**2 == pytest.approx(extra)


def test_what_one_more_reading_or_sample_buys():
    found = smallest_for_brews(EXACT_MASSES, DROPS, effort=Effort(samples=2, readings_per_sample=2))

    def u(samples, readings):
        return math.sqrt(2) * 16 * math.sqrt((0.03**2 + 0.02**2 / readings) / samples + STEP**2)

    assert found.u_difference == pytest.approx(u(2, 2))
    assert bought(found)["reading"].u_difference == pytest.approx(u(2, 3))
    assert bought(found)["sample"].u_difference == pytest.approx(u(3, 2))
    assert bought(found)["sample"].reduction_pct == pytest.approx(100 * (1 - u(3, 2) / u(2, 2)))
    # Drops differ more than readings of one drop: another drop buys more.
    assert bought(found)["sample"].reduction_pct > bought(found)["reading"].reduction_pct


def test_without_second_drops_nobody_knows_what_one_more_would_buy():
    found = smallest_for_brews(EXACT_MASSES, READINGS_ONLY, effort=Effort(readings_per_sample=2))
    assert bought(found)["sample"].u_difference is None
    assert found.sentences()[-1] == "One more sample of each brew: not known, because no brew was sampled twice."


def test_recipes_add_the_scatter_of_brewing_and_one_more_brew_halves_its_variance():
    found = smallest_for_recipes(EXACT_MASSES, READINGS_ONLY, RECIPES, effort=Effort(readings_per_sample=2))

    assert found.u_difference == pytest.approx(0.5 * math.sqrt(2))
    assert bought(found)["brew"].u_difference == pytest.approx(0.5)
    assert bought(found)["brew"].reduction_pct == pytest.approx(100 * (1 - 1 / math.sqrt(2)))


def test_one_more_reading_takes_the_measurings_part_off_a_recipes_scatter():
    found = smallest_for_recipes(EXACT_MASSES, READINGS_ONLY, RECIPES, effort=Effort(brews=3, readings_per_sample=2))
    less = 0.5**2 - 16**2 * (0.02**2 / 2 - 0.02**2 / 3)
    assert found.u_difference == pytest.approx(0.5 * math.sqrt(2 / 3))
    assert bought(found)["reading"].u_difference == pytest.approx(math.sqrt(2 / 3 * less))


def test_recipes_that_scatter_less_than_their_measuring_never_gain_a_negative_variance():
    steady = replace(RECIPES, sd_pct=0.01)
    found = smallest_for_recipes(EXACT_MASSES, READINGS_ONLY, steady, effort=Effort())
    assert 0 < bought(found)["reading"].u_difference < found.u_difference == pytest.approx(0.01 * math.sqrt(2))


def test_recipes_on_two_instruments_keep_both_offsets_however_many_brews():
    found = smallest_for_recipes(
        EXACT_MASSES, READINGS_ONLY, RECIPES, effort=Effort(brews=10_000), one_instrument=False
    )
    assert found.u_difference == pytest.approx(math.sqrt(2) * 16 * 0.02, rel=1e-3)


def test_few_degrees_of_freedom_ask_for_more():
    few = smallest_for_recipes(EXACT_MASSES, READINGS_ONLY, replace(RECIPES, df=5), effort=Effort())
    assert few.df == pytest.approx(5)
    assert few.critical / few.u_difference == pytest.approx(2.571, abs=5e-4)  # Student's t, 97.5 %, 5 df


@pytest.mark.slow
def test_a_true_difference_of_that_size_is_found_in_8_of_10_comparisons():
    # 5 brews of one recipe and 5 of another, the scatter pooled from 20 earlier degrees of freedom.
    recipes = replace(RECIPES, df=20)
    rng = np.random.default_rng(20260611)
    runs = 4000
    found = smallest_for_recipes(EXACT_MASSES, READINGS_ONLY, recipes, effort=Effort(brews=5))
    s = 0.5 * np.sqrt(rng.chisquare(20, runs) / 20)
    for true, rate in ((0.0, 0.05), (found.detectable, 0.8)):
        difference = true + rng.normal(0, 0.5, (5, runs)).mean(axis=0) - rng.normal(0, 0.5, (5, runs)).mean(axis=0)
        critical = found.critical * s / 0.5  # each lab knows its own pooled s
        # 4,000 runs: standard errors 0.34 and 0.63 points; four of them.
        assert np.mean(np.abs(difference) > critical) == pytest.approx(
            rate, abs=4 * math.sqrt(rate * (1 - rate) / runs)
        )


def test_in_words():
    found = smallest_for_recipes(EXACT_MASSES, READINGS_ONLY, RECIPES, effort=Effort(brews=2, readings_per_sample=2))
    # u = 0.5; 1.96 * 0.5 = 0.98; 2.80 * 0.5 = 1.40; three brews: 0.5 * sqrt(2/3) = 0.41, 18 % less.
    assert found.sentences()[0] == (
        "Two recipes brewed (2 brews each, 1 sample a brew, 2 readings a sample): brewing and measuring alone give "
        "differences up to 0.98 points (95 %); a true difference of 1.40 points is found in 8 of 10 comparisons."
    )
    assert "60 brews of 12 recipes" in found.sentences()[1]
    assert found.sentences()[-1] == (
        "One more brew of each recipe: standard uncertainty of a difference 0.41 instead of 0.50 points, 18 % less."
    )


def test_scatter_lent_by_other_methods_is_said():
    lent = replace(READINGS_ONLY, other_methods=True)
    found = smallest_for_brews(EXACT_MASSES, lent, effort=Effort())
    assert "pooled over the instrument's other methods, as this one has no repeats," in found.rests_on
    assert found.sentences()[0].startswith(
        "Two brews measured (1 brew each, 1 sample a brew, 1 reading a sample): measuring alone gives differences"
    )


def test_the_typical_brew_is_the_middle_one_on_the_commonest_instrument():
    filters = [filter_brew(beverage_g=mass) for mass in (200.0, 250.0, 400.0)]
    elsewhere = [espresso(group=replace(GROUP, instrument="R2"))] * 2
    both = replace(filters[0], readings=(GROUP, replace(GROUP, instrument="R2")))
    assert typical_brew([*filters, *elsewhere, *[both] * 9]) == filters[1]


def test_what_cannot_be_answered_is_refused_plainly():
    with pytest.raises(ProblemError, match="Nothing is known of how readings repeat"):
        smallest_for_brews(EXACT_MASSES, DropScatter(None, 0, None, None, 0), effort=Effort())
    with pytest.raises(ProblemError, match="one brew each"):
        smallest_for_brews(EXACT_MASSES, READINGS_ONLY, effort=Effort(brews=2))
    with pytest.raises(ProblemError, match="no typical brew"):
        typical_brew([])


def test_a_small_gain_is_told_with_the_digits_that_show_it():
    assert "0.521 instead of 0.526 points, 1 % less." in Purchase("reading", 0.521, 1.0).sentence(0.526)
    assert "0.37 instead of 0.53 points, 29 % less." in Purchase("brew", 0.372, 29.3).sentence(0.526)
