"""Deming lines against R and printed values; see tests/reference/deming/README.md."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import polars as pl
import pytest

from analysis.measurement.deming import ErrorRatio, Line, fit, fit_line, predict

FOLDER = Path(__file__).parents[2] / "reference" / "deming"
EXPECTED = pl.read_csv(FOLDER / "expected.csv")
PAIRS = pl.read_csv(FOLDER / "pairs.csv")
CASES = {  # error variances as in generate.R
    "published": ("published", 0.032, 0.008),
    "equal_errors": ("published", 1.0, 1.0),
    "narrow": ("narrow", 0.0001, 0.0004),
    "wide": ("wide", 0.0025, 0.0025),
    "exact_x": ("narrow", 0.0, 1.0),
    "exact_y": ("narrow", 1.0, 0.0),
}


def errors(x: float, y: float) -> ErrorRatio:
    ratio = y / x if x else math.inf
    return ErrorRatio(x, y, ratio, ratio, known=True, basis="given")


def points(case: str) -> tuple[np.ndarray, np.ndarray]:
    rows = PAIRS.filter(case=case)
    return rows["x"].to_numpy(), rows["y"].to_numpy()


def line_of(case: str) -> Line:
    data, var_x, var_y = CASES[case]
    return fit_line(*points(data), errors(var_x, var_y))


def r_value(case: str, quantity: str) -> float:
    return EXPECTED.filter(case=case, quantity=quantity)["value"].item()


@pytest.mark.parametrize("case", CASES)
def test_lines_and_jackknife_intervals_match_r(case):
    line = line_of(case)

    for name in ("intercept", "slope", "intercept_low", "intercept_high", "slope_low", "slope_high"):
        assert getattr(line, name) == pytest.approx(r_value(case, name), rel=1e-9), name
    assert line.residual_variance == pytest.approx(r_value(case, "residual_variance"), rel=1e-9)
    var_intercept, covariance, var_slope = line.covariance
    assert math.sqrt(var_intercept) == pytest.approx(r_value(case, "se_intercept"), rel=1e-9)
    assert math.sqrt(var_slope) == pytest.approx(r_value(case, "se_slope"), rel=1e-9)
    assert covariance == pytest.approx(r_value(case, "covariance"), rel=1e-9)


def test_a_published_example_to_the_digits_printed():
    line = line_of("published")

    assert line.intercept == pytest.approx(-0.0897449, abs=5e-8)
    assert line.slope == pytest.approx(1.0011942, abs=5e-8)
    assert (line.slope_low, line.slope_high) == pytest.approx((0.5695632, 1.4328253), abs=6e-8)
    assert (line.intercept_low, line.intercept_high) == pytest.approx((-4.06065, 3.88117), abs=6e-6)


@pytest.mark.parametrize("case", ["published", "equal_errors", "narrow", "exact_x", "exact_y"])
def test_jackknife_errors_are_of_the_bootstraps_size(case):
    se = math.sqrt(line_of(case).covariance[2])

    assert se == pytest.approx(r_value(case, "bootstrap_se_slope"), rel=0.3)


def test_swapping_the_instruments_turns_the_same_line_round():
    x, y = points("narrow")
    forward, back = fit_line(x, y, errors(1.0, 4.0)), fit_line(y, x, errors(4.0, 1.0))

    assert back.slope == pytest.approx(1 / forward.slope, rel=1e-12)
    assert back.intercept == pytest.approx(-forward.intercept / forward.slope, rel=1e-10)


def test_many_data_sets_at_once_are_each_on_their_own():
    rng = np.random.default_rng(7)
    truth = rng.uniform(1.1, 1.5, (5, 9))
    x, y = truth + rng.normal(0, 0.01, truth.shape), truth + rng.normal(0, 0.02, truth.shape)
    var_x, var_y = rng.uniform(1, 2, 5), rng.uniform(1, 4, 5)
    together = fit(x, y, var_x, var_y)

    for run in range(5):
        alone = fit(x[run], y[run], var_x[run], var_y[run])
        assert together.slope[run] == pytest.approx(float(alone.slope), rel=1e-13)
        assert together.var_slope[run] == pytest.approx(float(alone.var_slope), rel=1e-11)


def test_slopes_at_the_ends_of_an_unknown_ratio_are_the_two_ordinary_regressions():
    x, y = points("narrow")
    line = fit_line(x, y, ErrorRatio(1.0, 4.0, 0.0, math.inf, known=True, basis="given"))

    assert line.slope_at_low == pytest.approx(r_value("exact_y", "slope"), rel=1e-9)
    assert line.slope_at_high == pytest.approx(r_value("exact_x", "slope"), rel=1e-9)


def test_prediction_at_the_mean_adds_the_lines_error_and_the_scatter():
    """At the mean strength a line through the centroid has about the standard error of a mean of n residuals."""
    x, y = points("narrow")
    line = line_of("narrow")
    found = predict(line, float(x.mean()))

    assert found.value == pytest.approx(y.mean(), rel=1e-12)
    t_13 = 2.160369  # Student's t, 13 degrees of freedom, 0.975, as tabulated
    by_hand = t_13 * math.sqrt(line.residual_variance * (1 + 1 / 15))
    assert (found.high - found.low) / 2 == pytest.approx(by_hand, rel=0.01)
    assert not found.outside_range


def test_single_readings_widen_a_prediction_and_strengths_never_read_are_marked():
    line = line_of("narrow")
    mean, single = predict(line, 1.3), predict(line, 1.3, added=((0.001, 10_000),))

    assert single.high - single.low > mean.high - mean.low
    assert predict(line, 1.7).outside_range
    assert predict(line, 0.9).outside_range
