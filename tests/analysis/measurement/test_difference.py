"""Differences of two brews: what one instrument lets cancel, against the `uncertainties` library and on paper."""

import math
from dataclasses import replace

import numpy as np
import pytest
from uncertainties import ufloat

from analysis.measurement.budget import brew_budget
from analysis.measurement.correlated import covariance_of_results
from analysis.measurement.difference import difference, difference_of_means
from analysis.measurement.measured import Mass, Scale
from tests.analysis.measurement.made_up_brews import GROUP, SCALE, espresso, filter_brew, steeped, yield_by_hand

STEP = 0.01 / math.sqrt(12)
EXACT = {"scale": 0.0}
OTHER = replace(GROUP, instrument="R2", pool="R2 pour_over")


def u_of(first, second):
    return difference(brew_budget(first), brew_budget(second)).budget.u


def test_on_one_instrument_the_offset_counts_by_the_difference_of_sensitivities():
    c1, c2 = 288 / 18, 38 / 18
    own = c1**2 * (0.02**2 / 3 + STEP**2) + c2**2 * (0.06**2 / 3 + STEP**2)
    assert u_of(filter_brew(**EXACT), espresso(**EXACT)) == pytest.approx(math.sqrt(own + (c1 - c2) ** 2 * 0.02**2))


def test_on_two_instruments_nothing_cancels():
    first, second = filter_brew(**EXACT), filter_brew(group=OTHER, **EXACT)
    one = 16 * math.sqrt(0.02**2 / 3 + STEP**2 + 0.02**2)
    assert u_of(first, second) == pytest.approx(math.sqrt(2) * one)


def test_a_slope_error_leaves_its_share_of_the_difference():
    group = replace(GROUP, gain_u=0.01)
    first, second = filter_brew(group=group, **EXACT), filter_brew(tds_pct=1.5, group=group, **EXACT)
    found = difference(brew_budget(first), brew_budget(second))
    (gain,) = [error for error in found.shared if error.name == "TDS gain"]

    # Percolation: dY/dt * t = Y, so that 1 % of slope leaves 1 % of the 4 points between 20 and 24 %.
    assert gain.left_u == pytest.approx(0.04)
    assert (
        "A slope error of R1 grows with the strength and leaves its share of the difference: 0.040" in found.explained
    )


def test_a_slope_error_declared_about_a_reading_turns_about_it():
    group = replace(GROUP, gain_u=0.01, gain_about_pct=1.25)
    names = {part.name for part in brew_budget(filter_brew(group=group)).components}
    assert "TDS gain" not in names
    assert u_of(filter_brew(group=group), filter_brew(tds_pct=1.5, group=group)) > u_of(
        filter_brew(), filter_brew(tds_pct=1.5)
    )


def test_a_shared_scale_cancels_what_is_left_of_calibration_but_not_its_display():
    exact = replace(GROUP, scatter_pct=None, standard_uncertainty_pct=0.0, resolution_pct=0.0)
    brew = filter_brew(group=exact)
    step = math.sqrt(2 * 0.1**2 / 12)
    expected = math.sqrt(2) * math.hypot(20 / 18 * step, 1.25 / 18 * step)

    assert u_of(brew, brew) == pytest.approx(expected)
    elsewhere = filter_brew(group=exact, scale=Scale("S2", 0.05, 0.1))
    assert u_of(brew, elsewhere) == pytest.approx(math.sqrt(2) * brew_budget(brew).u)


def test_scatter_of_one_pool_keeps_its_degrees_of_freedom():
    scattered = replace(GROUP, standard_uncertainty_pct=0.0, resolution_pct=0.0, scatter_df=7)
    first, second = filter_brew(group=scattered, **EXACT), filter_brew(group=scattered, **EXACT)
    apart = filter_brew(group=replace(scattered, pool="another"), **EXACT)

    assert difference(brew_budget(first), brew_budget(second)).budget.df == pytest.approx(7)
    assert difference(brew_budget(first), brew_budget(apart)).budget.df == pytest.approx(14)


def test_nameless_instruments_are_not_taken_for_one():
    nameless = replace(GROUP, instrument="", resolution_pct=0.0)
    brew = filter_brew(group=nameless, scale=0.05)
    found = difference(brew_budget(brew), brew_budget(brew))

    assert found.budget.u == pytest.approx(math.sqrt(2) * brew_budget(brew).u)
    assert found.explained == (
        "No instrument is named for a strength: it is taken as a different one, so nothing of it cancels. "
        "The weighings share no named weighing scale: nothing of their errors cancels."
    )


def test_one_correction_of_two_sizes_is_one_error():
    # Read far apart, the same correction is worth 0.01 and 0.03 %: |16 * 0.01 - 16 * 0.03| is left.
    near, far = replace(GROUP, correction_u_pct=0.01), replace(GROUP, correction_u_pct=0.03)
    found = difference(brew_budget(filter_brew(group=near, **EXACT)), brew_budget(filter_brew(group=far, **EXACT)))
    (correction,) = found.shared
    assert correction.left_u == pytest.approx(16 * 0.02)


def uncertain_yield(errors, *, balance, instrument, scale, tds, masses, gain_u, scatter_u):
    """The yield as the `uncertainties` library sees it; `errors` remembers what two brews share."""

    def shared(key, u):
        return errors.setdefault(key, ufloat(0, u))

    said = tds + shared(instrument, 0.02) + shared((instrument, "gain"), gain_u) * tds + ufloat(0, scatter_u)
    step = math.sqrt(2 * 0.1**2 / 12)
    weighed = {name: mass + shared((scale, name), 0.05) + ufloat(0, step) for name, mass in masses.items()}
    none = dict.fromkeys(("beverage", "water", "evaporated", "bypass"), 0.0)
    return yield_by_hand(balance=balance, tds=said + ufloat(0, STEP), **(none | weighed), included=0, after=0)


@pytest.mark.parametrize("seed", range(20))
def test_differences_agree_with_the_uncertainties_library(seed):
    rng = np.random.default_rng([20260611, seed])
    errors, budgets, by_library = {}, [], []
    for _ in range(2):
        balance = rng.choice(["percolation", "immersion"])
        instrument, scale = rng.choice(["R1", "R2"]), rng.choice(["S1", "S2"])
        tds, dose, liquid = rng.uniform(1, 10), rng.uniform(14, 24), rng.uniform(30, 400)
        group = replace(GROUP, instrument=instrument, gain_u=0.004)
        brew = filter_brew if balance == "percolation" else steeped
        other = {"beverage_g" if balance == "percolation" else "water_g": liquid}
        made = brew(tds_pct=tds, dose_g=dose, scale=replace(SCALE, instrument=scale), group=group, **other)
        budgets.append(brew_budget(made))
        masses = {"dose": dose, "beverage" if balance == "percolation" else "water": liquid}
        by_library.append(
            uncertain_yield(
                errors, balance=balance, instrument=instrument, scale=scale, tds=tds, masses=masses, gain_u=0.004,
                scatter_u=0.02 / math.sqrt(3),
            )
        )  # fmt: skip
    expected = by_library[0] - by_library[1]
    found = difference(*budgets)

    assert found.budget.value == pytest.approx(expected.nominal_value, rel=1e-9)
    assert found.budget.u == pytest.approx(expected.std_dev, rel=1e-9)
    covariance = covariance_of_results(budgets)
    assert found.budget.u**2 == pytest.approx(covariance[0, 0] + covariance[1, 1] - 2 * covariance[0, 1], rel=1e-9)


def test_means_of_several_brews_average_their_own_errors_but_not_the_instruments():
    first = [brew_budget(filter_brew(group=GROUP)) for _ in range(4)]
    second = [brew_budget(filter_brew(group=OTHER)) for _ in range(2)]
    found = difference_of_means(first, second)
    covariance = covariance_of_results([*first, *second])
    weights = np.array([1 / 4] * 4 + [-1 / 2] * 2)

    assert found.budget.u**2 == pytest.approx(weights @ covariance @ weights)
    # Two offsets of 0.02 % at 16 points per %, however many brews.
    assert found.budget.u > 16 * 0.02 * math.sqrt(2)


def test_what_it_means_in_words():
    first, second = filter_brew(tds_pct=1.3), filter_brew(tds_pct=1.25)
    same = difference(brew_budget(first), brew_budget(second))
    assert same.is_clear
    assert same.sentence().startswith("+0.80 points, 95 % interval ")
    assert "a difference. Both sides were read on R1: an offset cancels as far as it moves both yields alike" in (
        same.sentence()
    )
    assert "(0.000 points left, 0 % of what two instruments would leave)" in same.explained
    assert "Both sides were weighed on S1" in same.explained

    apart = difference(brew_budget(first), brew_budget(replace(second, readings=(OTHER,))))
    assert not apart.is_clear
    assert "no difference that these measurements can show" in apart.sentence()
    assert "read on R1 and on R2: nothing cancels, both offsets count in full" in apart.sentence()

    both = replace(first, readings=(GROUP, OTHER))
    assert "Only R1 read both sides" in difference(brew_budget(both), brew_budget(second)).explained


def test_a_bypass_weighed_on_the_shared_scale_cancels_too():
    brew = filter_brew(bypass=Mass(40.0, SCALE), bypass_included=True)
    names = {error.name for error in difference(brew_budget(brew), brew_budget(brew)).shared}
    assert names == {"TDS bias", "dose bias", "beverage bias", "bypass bias"}
