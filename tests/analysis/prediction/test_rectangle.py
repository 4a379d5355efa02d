"""Probability of a rectangle, against closed forms and scipy's own integration."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import stats

from analysis.prediction.rectangle import normal_both_below, normal_inside

SOME = [-2.3, -0.4, 0.0, 0.7, 3.1]


@pytest.mark.parametrize("r", [-0.9, -0.3, 0.0, 0.5, 0.99])
def test_a_quadrant_at_the_middle_is_a_quarter_and_the_arc_sine(r: float) -> None:
    """Sheppard (1899): P(X < 0, Y < 0) = 1/4 + asin(r) / (2 pi)."""
    assert normal_both_below(np.array(0.0), np.array(0.0), np.array(r)) == pytest.approx(
        0.25 + math.asin(r) / (2 * math.pi), abs=1e-14
    )


@pytest.mark.parametrize("r", [-0.95, -0.2, 0.6, 0.97])
@pytest.mark.parametrize("h", SOME)
@pytest.mark.parametrize("k", SOME)
def test_any_quadrant_is_that_of_scipys_integration(h: float, k: float, r: float) -> None:
    found = normal_both_below(np.array(h), np.array(k), np.array(r))

    assert found == pytest.approx(stats.multivariate_normal.cdf([h, k], [0, 0], [[1, r], [r, 1]]), abs=1e-7)


def test_when_the_two_are_all_but_one_number_the_narrower_side_decides() -> None:
    found = normal_inside(
        (np.array([20.0]), np.array([10.0])),
        (np.array([1.0]), np.array([0.5])),
        np.array([1 - 1e-9]),
        ((19.0, 21.0), (9.0, 10.25)),
    )

    assert found[0] == pytest.approx(stats.norm.cdf(0.5) - stats.norm.cdf(-1.0), abs=1e-4)


def test_an_open_side_leaves_the_other_alone() -> None:
    found = normal_inside(
        (np.array([20.0]), np.array([10.0])),
        (np.array([2.0]), np.array([0.5])),
        np.array([0.7]),
        ((19.0, 21.0), (-math.inf, math.inf)),
    )

    assert found[0] == pytest.approx(2 * stats.norm.cdf(0.5) - 1, abs=1e-12)
