"""What must hold whatever the data: units, order and names do not matter; closed forms where they exist."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats
from statsmodels.regression.linear_model import OLS
from statsmodels.regression.mixed_linear_model import MixedLM

from analysis.mixed.climb import _climb_and_drop
from analysis.mixed.fit import _denominator
from analysis.mixed.model import MixedFit, NoFit, RandomPart, fit_mixed_model
from analysis.mixed.scaled import Scaled, scale

SEEDS = st.integers(0, 2**32 - 1)


def _brews(seed: int, n: int = 40):
    rng = np.random.default_rng(seed)
    coffee, session, grind = rng.integers(5, size=n), rng.integers(6, size=n), rng.normal(size=n)
    x = np.column_stack([np.ones(n), grind, rng.normal(size=n)])
    parts = [
        RandomPart("coffee", coffee, np.ones(n)),
        RandomPart("session", session, np.ones(n)),
        RandomPart("grind by coffee", coffee, grind),
    ]
    sizes = rng.choice([0.0, 0.5, 2.0], size=3)
    levels = (size * rng.normal(size=6)[part.codes] * part.slope for size, part in zip(sizes, parts, strict=True))
    return x @ [20.0, 0.4, 0.0] + sum(levels) + rng.normal(size=n), x, parts


def _all_df(fit: MixedFit) -> list[float]:
    return [fit.df(unit) for unit in np.eye(fit.estimate.size)]


@settings(max_examples=40, deadline=None, derandomize=True)
@given(SEEDS)
def test_units_of_response_columns_and_slopes_do_not_matter(seed):
    y, x, parts = _brews(seed)
    width, height, depth = np.array([1.0, 1e4, 1e-5]), 1e-4, 1e3
    moved_parts = [*parts[:2], RandomPart(parts[2].name, parts[2].codes, parts[2].slope * depth)]
    plain, moved = fit_mixed_model(y, x, parts), fit_mixed_model(y * height, x * width, moved_parts)

    assert isinstance(plain, MixedFit)
    assert isinstance(moved, MixedFit)
    assert moved.dropped == plain.dropped
    assert moved.estimate * width / height == pytest.approx(plain.estimate, rel=1e-6, abs=1e-9)
    turn = np.outer(width, width) / height**2
    assert np.diag(moved.covariance * turn) == pytest.approx(np.diag(plain.covariance), rel=1e-6)
    assert _all_df(moved) == pytest.approx(_all_df(plain), rel=1e-5)
    units = {"coffee": 1.0, "session": 1.0, "grind by coffee": depth**2}
    back = {name: value * units[name] / height**2 for name, value in moved.components.items()}
    assert back == pytest.approx(plain.components, rel=1e-5)
    assert moved.standardised == pytest.approx(plain.standardised, abs=1e-5)
    lift = 2 * (y.size - 3) * np.log(height) + 2 * np.log(width).sum()
    assert moved.criterion == pytest.approx(plain.criterion + lift, abs=1e-8)


@settings(max_examples=40, deadline=None, derandomize=True)
@given(SEEDS)
def test_order_of_rows_names_of_levels_and_order_of_parts_do_not_matter(seed):
    y, x, parts = _brews(seed)
    rng = np.random.default_rng(seed)
    rows, names = rng.permutation(y.size), rng.permutation(9)
    shuffled = [RandomPart(part.name, names[part.codes][rows], part.slope[rows]) for part in reversed(parts)]
    plain, moved = fit_mixed_model(y, x, parts), fit_mixed_model(y[rows], x[rows], shuffled)

    assert isinstance(plain, MixedFit)
    assert isinstance(moved, MixedFit)
    assert set(moved.dropped) == set(plain.dropped)
    assert moved.estimate == pytest.approx(plain.estimate, rel=1e-6, abs=1e-9)
    assert moved.components == pytest.approx(plain.components, rel=1e-5)
    assert _all_df(moved) == pytest.approx(_all_df(plain), rel=1e-5)
    assert moved.residual == pytest.approx(plain.residual[rows], abs=1e-6)


@settings(max_examples=60, deadline=None, derandomize=True)
@given(SEEDS)
def test_no_neighbour_and_no_smaller_model_is_better(seed):
    """The criterion at the top is at most that of every model without one part, and of each component nudged."""
    y, x, parts = _brews(seed, n=20)
    fit = fit_mixed_model(y, x, parts)

    assert isinstance(fit, MixedFit)
    for k in range(3):
        less = fit_mixed_model(y, x, parts[:k] + parts[k + 1 :])
        assert isinstance(less, MixedFit)
        assert fit.criterion <= less.criterion + 1e-8
        if parts[k].name in fit.dropped:
            assert fit.criterion == pytest.approx(less.criterion, abs=1e-8)
    assert np.all(np.linalg.eigvalsh(fit.variance_covariance) > 0)


@pytest.mark.parametrize("dropped", [False, True])
def test_without_parts_it_is_least_squares(dropped):
    y, x, _ = _brews(3)
    parts = []
    if dropped:  # Every coffee has the same mean residual: its variance is zero.
        codes = np.arange(y.size) % 4
        x = np.column_stack([np.ones(y.size), np.repeat(np.arange(10), 4)])
        y = OLS(y, np.column_stack([x, codes[:, None] == np.arange(1, 4)])).fit().resid
        parts = [RandomPart("coffee", codes, np.ones(y.size))]
    fit = fit_mixed_model(y, x, parts)
    other = OLS(y, x).fit()

    assert isinstance(fit, MixedFit)
    assert fit.dropped == (("coffee",) if dropped else ())
    assert not fit.components
    assert not fit.levels
    assert fit.estimate == pytest.approx(other.params, rel=1e-9, abs=1e-12)
    assert np.sqrt(np.diag(fit.covariance)) == pytest.approx(other.bse, rel=1e-9)
    assert _all_df(fit) == pytest.approx([y.size - x.shape[1]] * x.shape[1], rel=1e-9)
    assert fit.sigma**2 == pytest.approx(other.scale, rel=1e-9)
    assert fit.standardised == pytest.approx(other.get_influence().resid_studentized_internal, abs=1e-9)
    found, theirs = fit.f_test(np.eye(x.shape[1])[1:]), other.f_test(np.eye(x.shape[1])[1:])
    assert found.p_value == pytest.approx(float(theirs.pvalue), rel=1e-6)


def test_balanced_one_way_closed_form(crossed):
    """Dyestuff: (MSB - MSW) / 5 = 1764.05 and MSW = 2451.25; df of the mean 5; each level shrunk."""
    y, x, parts = crossed("dyestuff")
    fit = fit_mixed_model(y, x, parts)
    means = y.reshape(6, 5).mean(axis=1)
    between, within = 5 * means.var(ddof=1), y.reshape(6, 5).var(axis=1, ddof=1).mean()

    assert isinstance(fit, MixedFit)
    assert (between, within) == pytest.approx((11271.5, 2451.25))
    assert fit.components["batch"] == pytest.approx(1764.05, rel=1e-8)
    assert fit.sigma**2 == pytest.approx(2451.25, rel=1e-8)
    assert fit.standard_error(np.ones(1)) == pytest.approx(np.sqrt(between / 30), rel=1e-8)
    assert fit.df(np.ones(1)) == pytest.approx(5, rel=1e-6)
    share = 5 * 1764.05 / between
    assert fit.levels["batch"] == pytest.approx(share * (means - 1527.5), rel=1e-7)


def test_balanced_two_way_crossed_closed_form():
    """Coffee x session once each: method of moments from the mean squares, where all are positive."""
    rng = np.random.default_rng(2)
    coffee, session = np.repeat(np.arange(5), 4), np.tile(np.arange(4), 5)
    grid = 2 * rng.normal(size=(5, 1)) + 3 * rng.normal(size=(1, 4)) + rng.normal(size=(5, 4))
    rows, columns = grid.mean(axis=1), grid.mean(axis=0)
    left = grid - rows[:, None] - columns + grid.mean()
    error = np.sum(left**2) / 12
    assert error < min(4 * rows.var(ddof=1), 5 * columns.var(ddof=1))
    parts = [RandomPart("coffee", coffee, np.ones(20)), RandomPart("session", session, np.ones(20))]
    fit = fit_mixed_model(grid.ravel(), np.ones((20, 1)), parts)

    assert isinstance(fit, MixedFit)
    assert fit.sigma**2 == pytest.approx(error, rel=1e-8)
    assert fit.components["coffee"] == pytest.approx((4 * rows.var(ddof=1) - error) / 4, rel=1e-8)
    assert fit.components["session"] == pytest.approx((5 * columns.var(ddof=1) - error) / 5, rel=1e-8)


def test_statsmodels_reaches_the_same_top(crossed):
    y, x, parts = crossed("sleepstudy")
    theirs = MixedLM(y, x, groups=parts[0].codes).fit(reml=True)
    ours = fit_mixed_model(y, x, parts)

    assert isinstance(ours, MixedFit)
    assert ours.criterion == pytest.approx(-2 * theirs.llf, rel=1e-8)
    # statsmodels' optimiser leaves about 1e-4 on variances.
    assert ours.components["subject"] == pytest.approx(float(theirs.cov_re[0, 0]), rel=1e-3)


@pytest.mark.parametrize("seed", range(60))
def test_small_noisy_sets_end_in_a_fit(seed):
    rng = np.random.default_rng(seed)
    n = int(rng.integers(14, 24))
    y, x, parts = _brews(seed, n=n)
    fit = fit_mixed_model(y, x, parts[:2])

    assert isinstance(fit, MixedFit)
    assert np.all(np.diag(fit.covariance) > 0)
    assert np.all(np.array(_all_df(fit)) > 0)
    assert {*fit.components, *fit.dropped} == {"coffee", "session"}


def test_hundreds_of_levels_in_thousands_of_rows():
    rng = np.random.default_rng(8)
    n = 3000
    coffee, session = rng.integers(60, size=n), rng.integers(240, size=n)
    x = np.column_stack([np.ones(n), rng.normal(size=n)])
    y = x @ [20, 0.4] + rng.normal(size=60)[coffee] + 0.5 * rng.normal(size=240)[session] + rng.normal(size=n)
    parts = [RandomPart("coffee", coffee, np.ones(n)), RandomPart("session", session, np.ones(n))]
    fit = fit_mixed_model(y, x, parts)

    assert not isinstance(fit, NoFit)
    # Four standard errors of each, from the sampling law of a variance: 2 v^2 / levels.
    assert fit.components["coffee"] == pytest.approx(1, abs=4 * np.sqrt(2 / 60))
    assert fit.components["session"] == pytest.approx(0.25, abs=4 * 0.35 * np.sqrt(2 / 240))
    assert fit.sigma**2 == pytest.approx(1, abs=4 * np.sqrt(2 / n))


def test_four_components():
    """Coffee, session, slope by coffee and operator at once: no model without one of them is better."""
    rng = np.random.default_rng(15)
    n = 120
    y, x, parts = _brews(17, n=n)
    parts = [*parts, RandomPart("operator", rng.integers(4, size=n), np.ones(n))]
    fit = fit_mixed_model(y, x, parts)

    assert isinstance(fit, MixedFit)
    assert {*fit.components, *fit.dropped} == {part.name for part in parts}
    for k in range(4):
        less = fit_mixed_model(y, x, parts[:k] + parts[k + 1 :])
        assert isinstance(less, MixedFit)
        assert fit.criterion <= less.criterion + 1e-8


@pytest.mark.parametrize(
    ("df", "due"), [((5.0, 5.0), 5.0), ((1.5, 9.0), 2.0), ((4.0, 8.0), 2 * (10 / 3) / (10 / 3 - 2))]
)
def test_denominator_of_f(df, due):
    """The rule of lmerTest's contestMD (Fai and Cornelius 1996): E = sum df / (df - 2); 2 E / (E - r)."""
    assert _denominator(np.array(df)) == pytest.approx(due)


def test_interval_of_a_contrast_is_t_with_its_own_df(crossed):
    y, x, parts = crossed("sleepstudy")
    fit = fit_mixed_model(y, x, parts)
    contrast = np.array([1.0, 4.0])

    assert isinstance(fit, MixedFit)
    assert fit.value(contrast) == pytest.approx(251.4051048 + 4 * 10.4672860, rel=1e-7)
    due = stats.t.ppf(0.975, fit.df(contrast)) * np.sqrt(contrast @ fit.covariance @ contrast)
    assert fit.half_width(contrast) == pytest.approx(due)


def test_a_variance_next_to_nothing_is_dropped():
    """Balanced one-way with MSB = (1 + 2e-9) MSW: the variance, 5e-10 of the residual's, is not told from zero."""
    rng = np.random.default_rng(15)
    within = rng.normal(size=(6, 4))
    within -= within.mean(axis=1, keepdims=True)
    means = rng.normal(size=(6, 1))
    means -= means.mean()
    squares = np.sum(within**2) / 18
    for excess, dropped in ((2e-9, ("coffee",)), (0.2, ()), (-0.2, ("coffee",))):
        y = within + means * np.sqrt((1 + excess) * squares / (4 * np.sum(means**2) / 5))
        parts = [RandomPart("coffee", np.repeat(np.arange(6), 4), np.ones(24))]
        fit = fit_mixed_model(y.ravel(), np.ones((24, 1)), parts)

        assert isinstance(fit, MixedFit)
        assert fit.dropped == dropped
        data = scale(y.ravel(), np.ones((24, 1)), parts)
        assert isinstance(data, Scaled)
        from_above = _climb_and_drop(data.rotated, np.array([0.9, 1e-9]), ())
        assert from_above is not None
        assert (from_above.theta[1] == 0) == bool(dropped)
