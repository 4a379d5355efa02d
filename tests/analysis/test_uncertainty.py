"""Propagation against published examples, numerical derivatives and chance itself."""

import itertools
import json
from dataclasses import astuple
from pathlib import Path

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from analysis import uncertainty as un

CASES = json.loads((Path(__file__).parents[1] / "reference" / "propagation" / "cases.json").read_text())
NAMES = ("tds", "dose", "beverage", "water", "evaporated", "bypass")
ANSWERS = list(itertools.product((0.0, 1.0), repeat=2))


def percolation_by_hand(tds, dose, beverage, water, evaporated, bypass, *, included, after):
    """The yield written out from the design's formulas, apart from the project's code."""
    m = beverage - bypass if included else beverage
    t0 = tds / 100 * ((m + bypass) / m if after else 1)
    return 100 * m * t0 / dose


def immersion_by_hand(tds, dose, beverage, water, evaporated, bypass, *, included, after):
    m = beverage - bypass if included else beverage
    t0 = tds / 100 * ((m + bypass) / m if after else 1)
    return 100 * (water - evaporated) * t0 / (1 - t0) / dose


def slopes_by_differences(function, point, **answers):
    slopes = []
    for position, value in enumerate(point):
        step = 1e-4 * max(value, 1.0)
        up, down = list(point), list(point)
        up[position] += step
        down[position] -= step
        slopes.append((function(*up, **answers) - function(*down, **answers)) / (2 * step))
    return slopes


def percolation(point, *, included, after):
    tds, dose, beverage, _, _, bypass = point
    return un.percolation_sensitivities(
        tds_pct=tds,
        dose_g=dose,
        beverage_g=beverage,
        bypass_g=bypass,
        bypass_included=included,
        read_after_bypass=after,
    )


def immersion(point, *, included, after):
    tds, dose, beverage, water, evaporated, bypass = point
    return un.immersion_sensitivities(
        tds_pct=tds,
        dose_g=dose,
        water_g=water,
        evaporated_g=evaporated,
        beverage_g=beverage,
        bypass_g=bypass,
        bypass_included=included,
        read_after_bypass=after,
    )


points = st.tuples(
    st.floats(0.5, 10), st.floats(8, 80), st.floats(150, 900), st.floats(200, 1000), st.floats(0, 40), st.floats(0, 120)
)


@pytest.mark.parametrize(("included", "after"), ANSWERS)
@given(point=points)
def test_percolation_slopes_equal_numerical_derivatives(included, after, point):
    expected = slopes_by_differences(percolation_by_hand, point, included=included, after=after)
    # Central differences of step 1e-4: truncation and rounding stay under 1e-6 of the largest slope here.
    scale = max(abs(slope) for slope in expected)
    assert astuple(percolation(point, included=included, after=after)) == pytest.approx(expected, abs=2e-6 * scale)


@pytest.mark.parametrize(("included", "after"), ANSWERS)
@given(point=points)
def test_immersion_slopes_equal_numerical_derivatives(included, after, point):
    # Nearer to a pure solid than any brew comes, the formula has its pole.
    assume(point[0] * (1 + after * point[5] / (point[2] - included * point[5])) < 60)
    expected = slopes_by_differences(immersion_by_hand, point, included=included, after=after)
    scale = max(abs(slope) for slope in expected)
    assert astuple(immersion(point, included=included, after=after)) == pytest.approx(expected, abs=2e-6 * scale)


def test_bypass_weighed_in_and_read_in_cancels_out():
    assert percolation((1.2, 30.0, 500.0, 500.0, 0.0, 80.0), included=1.0, after=1.0).bypass == 0


def test_eurachem_example_a1():
    # c = 1000 m P / V has the yield's shape: 1000 P as strength, m as beverage, V as dose.
    case = CASES["quam_a1"]
    (mass, u_mass), (purity, u_purity), (volume, u_volume) = case["mass"], case["purity"], case["volume"]
    slopes = percolation((1000 * purity, volume, mass, 0.0, 0.0, 0.0), included=0.0, after=0.0)
    u = un.Sensitivities(1000 * u_purity, u_volume, u_mass, 0.0, 0.0, 0.0)

    assert un.propagated_variance(slopes, u) ** 0.5 == pytest.approx(case["u"], abs=5e-8)
    assert round(un.propagated_variance(slopes, u) ** 0.5, 1) == 0.9  # as printed


def test_yield_uncertainty_and_its_shares():
    case = CASES["yield"]
    (tds, u_tds), (beverage, u_beverage), (dose, u_dose) = case["tds_pct"], case["beverage_g"], case["dose_g"]
    slopes = percolation((tds, dose, beverage, 0.0, 0.0, 0.0), included=0.0, after=0.0)
    whole = un.propagated_variance(slopes, un.Sensitivities(u_tds, u_dose, u_beverage, 0.0, 0.0, 0.0))
    parts = [(slopes.tds * u_tds) ** 2, (slopes.beverage * u_beverage) ** 2, (slopes.dose * u_dose) ** 2]

    assert whole**0.5 == pytest.approx(case["u"], abs=5e-8)
    assert [part / whole for part in parts] == pytest.approx(case["shares"], abs=5e-7)
    # Four standard errors of the reference simulation, and the second-order terms on top (relative (u/x)^2).
    assert whole**0.5 == pytest.approx(case["monte_carlo_sd"], abs=4 * 0.000115 + 0.3265 * (0.02 / 1.25) ** 2)


@pytest.mark.parametrize(("included", "after"), ANSWERS)
@pytest.mark.parametrize("by_hand", [percolation_by_hand, immersion_by_hand])
def test_first_order_agrees_with_a_simulation(by_hand, included, after):
    point = np.array([1.3, 30.0, 480.0, 520.0, 12.0, 60.0])
    u = np.array([0.02, 0.05, 0.5, 0.6, 0.5, 0.4])
    draws = np.random.default_rng(20260401).normal(point, u, size=(200_000, 6)).T
    simulated = by_hand(*draws, included=included, after=after).std()

    slopes = (percolation if by_hand is percolation_by_hand else immersion)(point, included=included, after=after)
    # The sd of 200 000 draws has a relative standard error of 1/sqrt(4e5) = 0.16 %; four of them, and 0.1 % for
    # second-order terms, (u/x)^2 at most.
    assert un.propagated_variance(slopes, un.Sensitivities(*u)) ** 0.5 == pytest.approx(simulated, rel=0.0073)


def test_a_display_step_adds_a_uniform_variance():
    draws = np.random.default_rng(5).uniform(-0.05, 0.05, 400_000)
    found = un.instrument_variance(standard_uncertainty=0.0, resolution=0.1)
    assert found == pytest.approx(0.1**2 / 12)
    assert found == pytest.approx(draws.var(), rel=0.01)
    assert un.instrument_variance(standard_uncertainty=0.3, resolution=0.0) == pytest.approx(0.09)
