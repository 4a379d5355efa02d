from __future__ import annotations

import pytest
from statsmodels.stats.power import TTestIndPower

from analysis.charts.trial_size import brews_at_each_setting


@pytest.mark.parametrize("scatter", [0.25, 0.35, 0.5, 0.8, 1.2])
def test_as_many_brews_as_the_exact_power_of_the_t_test_asks(scatter):
    # statsmodels works with the noncentral t distribution, exactly; ours is a formula that may differ by one brew.
    found = brews_at_each_setting(scatter, 0.5)
    power = [TTestIndPower().power(0.5 / scatter, nobs1=n, alpha=0.05) for n in (found - 2, found, found + 1)]

    assert power[0] < 0.8 < power[2]
    assert power[1] == pytest.approx(0.8, abs=0.06) or power[1] > 0.8


def test_textbook_case():
    # Cohen (1988), table 2.4.1: a difference of half a standard deviation, 80 %, 5 % two-sided: 64 in each group.
    assert brews_at_each_setting(1.0, 0.5) == 64


def test_never_under_three():
    assert brews_at_each_setting(0.0, 0.5) == 3
