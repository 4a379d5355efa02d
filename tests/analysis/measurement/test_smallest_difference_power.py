"""Factors of a smallest difference against statsmodels' power of t tests and published tables."""

import math

import pytest
from statsmodels.stats.power import TTestPower

from analysis.measurement.power import critical_difference, detectable_difference


def test_with_many_degrees_of_freedom_the_factors_are_1_96_and_2_80():
    assert critical_difference(0.2, math.inf) == pytest.approx(0.2 * 1.959964, abs=1e-7)
    # 1.959964 + 0.841621, the 97.5 % and 80 % points of the normal distribution.
    assert detectable_difference(0.2, math.inf) == pytest.approx(0.2 * 2.801585, abs=2e-7)


@pytest.mark.parametrize("df", [1, 2, 3, 5, 10, 30, 100])
def test_with_few_the_detectable_difference_is_that_of_a_t_test(df):
    # One sample of df + 1 values: noncentrality d sqrt(n). statsmodels searches to about 2e-4.
    effect = TTestPower().solve_power(nobs=df + 1, alpha=0.05, power=0.8, alternative="two-sided")
    assert detectable_difference(1.0, df) == pytest.approx(effect * math.sqrt(df + 1), rel=5e-4)


@pytest.mark.parametrize(("n", "power"), [(64, 0.8014596), (30, 0.4778965)])
def test_power_of_two_samples_of_the_check_values(n, power):
    # check-values 3.7 (R pwr): two groups of n, d = 0.5; u of the difference sqrt(2/n), df = 2n - 2.
    # At a power of 48 % the far tail, left out here, still adds 4e-5.
    assert detectable_difference(math.sqrt(2 / n), 2 * n - 2, power=power) == pytest.approx(0.5, abs=5e-5)


def test_few_degrees_of_freedom_cost():
    assert critical_difference(1.0, 5) == pytest.approx(2.571, abs=5e-4)  # Student's t, 97.5 %, 5 df
    assert detectable_difference(1.0, 5) > detectable_difference(1.0, 50)
