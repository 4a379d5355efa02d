"""Inputs and results that hang together: GUM H.2, and the `uncertainties` library's own covariance matrices."""

import json
import math
from pathlib import Path

import numpy as np
import pytest
from uncertainties import correlated_values, covariance_matrix, ufloat

from analysis.measurement.budget import brew_budget
from analysis.measurement.correlated import covariance_of_means, covariance_of_results, propagated_covariance
from schemas.problem import ProblemError
from tests.analysis.measurement.made_up_brews import espresso, filter_brew, yield_by_hand

H2 = json.loads((Path(__file__).parents[2] / "reference" / "budget" / "gum_h2.json").read_text())
RESULTS = ("R", "X", "Z")


@pytest.fixture(scope="module")
def observed():
    return np.column_stack([H2["volts"], np.array(H2["milliamperes"]) / 1000, H2["radians"]])


def slopes_of_h2(means):
    volts, amperes, phase = means
    z, r, x = volts / amperes, volts / amperes * math.cos(phase), volts / amperes * math.sin(phase)
    return np.array([[r / volts, -r / amperes, -x], [x / volts, -x / amperes, r], [z / volts, -z / amperes, 0.0]])


def correlation(covariance, one, two):
    return covariance[one, two] / math.sqrt(covariance[one, one] * covariance[two, two])


def test_means_observed_together_have_the_covariance_of_gum_h2(observed):
    covariance = covariance_of_means(observed)

    assert observed.mean(axis=0) == pytest.approx(H2["means"], rel=5e-6)
    assert np.sqrt(np.diag(covariance)) == pytest.approx(H2["u_of_means"], rel=5e-5)
    found = [correlation(covariance, *pair) for pair in ((0, 1), (0, 2), (1, 2))]
    assert found == pytest.approx(list(H2["correlations"].values()), abs=5e-5)


def test_resistance_reactance_and_impedance_of_gum_h2(observed):
    covariance = propagated_covariance(slopes_of_h2(observed.mean(axis=0)), covariance_of_means(observed))

    u = np.sqrt(np.diag(covariance))
    assert u == pytest.approx([H2["u_ohms"][name] for name in RESULTS], rel=5e-6)
    assert u == pytest.approx([H2["u_ohms_printed"][name] for name in RESULTS], abs=1e-3)
    found = [correlation(covariance, *pair) for pair in ((0, 1), (0, 2), (1, 2))]
    assert found == pytest.approx(list(H2["result_correlations"].values()), abs=5e-6)


def test_leaving_the_correlations_out_fails_gum_h2(observed):
    ignored = np.diag(np.diag(covariance_of_means(observed)))
    u = np.sqrt(np.diag(propagated_covariance(slopes_of_h2(observed.mean(axis=0)), ignored)))

    for value, name in zip(u, RESULTS, strict=True):
        assert abs(value - H2["u_ohms_printed"][name]) > 0.03


@pytest.mark.parametrize("seed", range(6))
def test_correlated_inputs_agree_with_the_uncertainties_library(seed):
    rng = np.random.default_rng(seed)
    values = np.array([1.3, 18.0, 290.0])
    mix = rng.normal(size=(3, 3)) * [[0.01], [0.05], [0.4]]
    covariance = mix @ mix.T
    tds, dose, beverage = correlated_values(values, covariance)
    yield_slopes = [290 / 18, -1.3 * 290 / 18**2, 1.3 / 18]
    slopes = np.array([yield_slopes, [290 / 100, 0.0, 1.3 / 100]])

    expected = covariance_matrix([tds * beverage / dose, tds * beverage / 100])
    assert propagated_covariance(slopes, covariance) == pytest.approx(np.array(expected), rel=1e-9)


def test_brews_on_one_instrument_have_the_covariance_of_the_uncertainties_library():
    offset, dose_offset, beverage_offset = ufloat(0, 0.02), ufloat(0, 0.05), ufloat(0, 0.05)

    def by_library(tds, dose, beverage, scatter, repeats):
        own = ufloat(0, math.hypot(scatter / math.sqrt(repeats), 0.01 / math.sqrt(12)))
        step = math.sqrt(2 * 0.1**2 / 12)
        return yield_by_hand(
            balance="percolation", tds=tds + offset + own, dose=dose + dose_offset + ufloat(0, step),
            beverage=beverage + beverage_offset + ufloat(0, step), water=0, evaporated=0, bypass=0, included=0, after=0,
        )  # fmt: skip

    expected = covariance_matrix([by_library(1.25, 18, 288, 0.02, 3), by_library(9.5, 18, 38, 0.06, 3)])
    found = covariance_of_results([brew_budget(filter_brew()), brew_budget(espresso())])

    assert found == pytest.approx(np.array(expected), rel=1e-9)
    assert found[0, 1] > 0


def test_shapes_that_do_not_fit_are_refused():
    with pytest.raises(ProblemError, match="one row of slopes per result"):
        propagated_covariance(np.ones((2, 3)), np.eye(2))
    with pytest.raises(ProblemError, match="at least two"):
        covariance_of_means(np.ones((1, 3)))
