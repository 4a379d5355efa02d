"""Expected standard errors and degrees of freedom against textbook formulas and a dense calculation."""

from __future__ import annotations

import math
import sys
from pathlib import Path

import numpy as np
import pytest
from scipy import stats

sys.path.insert(0, str(Path(__file__).parent))

from plans import GRIND, HARD_TEMP, RATIO, TEMP, planned

from analysis.mixed.model import RandomPart, fit_mixed_model
from analysis.planning.noise import Noise, given_noise
from analysis.planning.simulate import simulate_power
from analysis.planning.strata import Layout, correlations, inflation, precision
from analysis.planning.tells import confounded, what_it_tells

SIGMA = 0.5
NOISE = given_noise(SIGMA, "extraction_yield_pct")


def test_a_two_level_effect_has_the_textbook_error() -> None:
    # From low to high over N runs: 2 sigma / sqrt(N) (Box, Hunter and Hunter; textbook algebra); df = N - 1 - 3 terms
    # - 1 more coffee.
    plan = planned(GRIND, RATIO, replicates=3)

    tells = what_it_tells(plan.model, plan.layout(), NOISE, difference=0.6)

    assert [tell.name for tell in tells] == ["grind_steps_finer", "beverage_ratio", "grind_steps_finer:beverage_ratio"]
    assert tells[0].std_error == pytest.approx(2 * SIGMA / math.sqrt(24))
    assert tells[2].std_error == pytest.approx(4 * SIGMA / math.sqrt(24))
    assert {tell.rests_on for tell in tells} == {24 - 1 - 3 - 1}
    assert tells[0].half_width == pytest.approx(stats.t.ppf(0.975, 19) * 2 * SIGMA / math.sqrt(24))
    shift = 0.6 / (2 * SIGMA / math.sqrt(24))
    critical = stats.t.ppf(0.975, 19)
    expected = stats.nct.sf(critical, 19, shift) + stats.nct.cdf(-critical, 19, shift)
    assert tells[0].chance == pytest.approx(expected, rel=1e-9)
    assert tells[2].chance is None


def test_the_split_plot_s_degrees_of_freedom_are_those_of_its_analysis_of_variance() -> None:
    # r = 4 sessions as blocks, a = 2 temperatures as whole plots, b = 2 grinds x 2 coffees within: whole-plot error
    # (r - 1)(a - 1) = 3; sub-plot error N - r a - grind - coffee - grind x temperature = 32 - 8 - 3.
    plan = planned(GRIND, HARD_TEMP, replicates=4, sessions=4)

    tells = {tell.name: tell for tell in what_it_tells(plan.model, plan.layout(), NOISE)}

    assert len(plan.runs) == 32
    assert tells["water_temp_c"].rests_on == 3
    assert tells["grind_steps_finer"].rests_on == 21


def test_the_whole_plot_s_own_scatter_widens_only_what_is_set_with_it() -> None:
    plan = planned(GRIND, HARD_TEMP, replicates=4, sessions=4)
    rough = Noise(SIGMA, whole_plot_sd=0.4)

    tells = {tell.name: tell for tell in what_it_tells(plan.model, plan.layout(), rough)}

    # Between the means of 8 whole plots, 4 at each temperature, each of 4 brews.
    plot_variance = 0.4**2 + SIGMA**2 / 4
    assert tells["water_temp_c"].std_error == pytest.approx(math.sqrt(2 * plot_variance / 4))
    assert tells["grind_steps_finer"].std_error == pytest.approx(2 * SIGMA / math.sqrt(32))


def test_uneven_brews_agree_with_dense_generalised_least_squares() -> None:
    rng = np.random.default_rng(5)
    x = rng.standard_normal((23, 3))
    coffee, session, plot = (rng.integers(0, k, 23) for k in (3, 2, 9))
    noise = Noise(0.7, whole_plot_sd=0.3, slope_sds=(0.2,))

    found = precision(Layout(x, coffee, session, plot), noise)

    dummies = [(coffee == k).astype(float) for k in range(3)] + [(session == 1).astype(float)]
    design = np.column_stack([x, *dummies])
    same_plot = (plot[:, None] == plot[None, :]).astype(float)
    same_coffee = (coffee[:, None] == coffee[None, :]).astype(float)
    v = 0.49 * np.eye(23) + 0.09 * same_plot + 0.04 * same_coffee * np.outer(x[:, 0], x[:, 0])
    expected = np.linalg.inv(design.T @ np.linalg.inv(v) @ design)[:3, :3]
    assert found is not None
    assert found.covariance == pytest.approx(expected, rel=1e-9)
    assert found.df[0] == 2  # a slope that differs by coffee: coffees less one


def test_settings_that_moved_together_are_told_by_correlation_and_inflation() -> None:
    rng = np.random.default_rng(6)
    a = rng.standard_normal(40)
    b = 0.9 * a + 0.3 * rng.standard_normal(40)
    x = np.column_stack([a, b])
    zero = np.zeros(40, dtype=np.int64)
    layout = Layout(x, zero, zero)

    r = np.corrcoef(a, b)[0, 1]
    assert correlations(layout)[0, 1] == pytest.approx(r)
    assert inflation(layout) == pytest.approx([1 / (1 - r**2)] * 2)
    model = planned(GRIND, RATIO, design="optimal", n_runs=6).model
    assert confounded(model, layout)[0][:2] == ("grind_steps_finer", "beverage_ratio")


def test_what_cannot_be_told_apart_has_no_error() -> None:
    zero = np.zeros(12, dtype=np.int64)
    a = np.tile([-1.0, 1.0], 6)

    assert precision(Layout(np.column_stack([a, 2 * a]), zero, zero), NOISE) is None
    assert precision(Layout(a[:, None], (a > 0).astype(np.int64), zero), NOISE) is None
    assert np.all(np.isinf(inflation(Layout(np.column_stack([a, 2 * a]), zero, zero))))


def test_simulation_and_closed_form_agree() -> None:
    # 400 campaigns, seed fixed before looking; the closed form must lie in the 99.9 % interval of the simulated share.
    plan = planned(GRIND, TEMP, replicates=3, sessions=2, coffees=("a", "b", "c"))
    noise = Noise(SIGMA, coffee_sd=1.0, session_sd=0.3)
    tells = what_it_tells(plan.model, plan.layout(), noise, difference=0.5)

    found = simulate_power(
        plan.layout(), noise, coefficients=np.array([0.25, 0.0, 0.0]), term=0, n=400, rng=np.random.default_rng(20)
    )

    ends = stats.binomtest(found.seen, found.n).proportion_ci(0.999)
    assert found.failed == 0
    assert ends.low < tells[0].chance < ends.high
    low, high = found.interval()
    assert low < found.share < high


def test_without_a_difference_a_simulated_campaign_seldom_raises_an_alarm() -> None:
    plan = planned(GRIND, replicates=5, sessions=2, coffees=("a", "b", "c", "d"))
    noise = Noise(SIGMA, coffee_sd=1.0, session_sd=0.3, slope_sds=(0.2,))

    found = simulate_power(
        plan.layout(), noise, coefficients=np.array([0.0]), term=0, n=400, rng=np.random.default_rng(21)
    )

    assert stats.binomtest(found.seen, found.n, 0.05).pvalue > 0.001


def test_the_expected_error_is_the_one_a_fit_reports_for_such_brews() -> None:
    # The mixed model's standard error, averaged over campaigns, against the one expected from the plan.
    plan = planned(GRIND, RATIO, replicates=2, sessions=2)
    layout, rng = plan.layout(), np.random.default_rng(22)
    x = np.column_stack([layout.x, np.ones(len(plan.runs))])
    part = RandomPart("coffee", layout.coffees, np.ones(len(plan.runs)))
    variances = []
    for _ in range(200):
        y = rng.standard_normal(len(plan.runs)) * SIGMA + 3.0 * layout.coffees
        fit = fit_mixed_model(y, x, [part])
        variances.append(fit.standard_error(np.array([1.0, 0, 0, 0])) ** 2)

    expected = precision(layout, NOISE).std_error[0]
    assert math.sqrt(np.mean(variances)) == pytest.approx(expected, rel=0.05)
