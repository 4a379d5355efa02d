"""The likeliest power against Box and Cox's own example (1964), the survival times under poisons and treatments."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.diagnostics.box_cox import box_cox
from analysis.diagnostics.case import basis

# Poison by row, treatment by column, four replicates each, in units of 10 h (R boot::poisons).
POISONS = np.array(
    [
        [[0.31, 0.45, 0.46, 0.43], [0.82, 1.10, 0.88, 0.72], [0.43, 0.45, 0.63, 0.76], [0.45, 0.71, 0.66, 0.62]],
        [[0.36, 0.29, 0.40, 0.23], [0.92, 0.61, 0.49, 1.24], [0.44, 0.35, 0.31, 0.40], [0.56, 1.02, 0.71, 0.38]],
        [[0.22, 0.21, 0.18, 0.23], [0.30, 0.37, 0.38, 0.29], [0.23, 0.25, 0.24, 0.22], [0.30, 0.36, 0.31, 0.33]],
    ]
)
TIMES = POISONS.ravel()
POISON, TREATMENT = (np.repeat(place.ravel(), 4) for place in np.indices((3, 4)))


def test_the_additive_model_has_the_published_power() -> None:
    span = basis(np.column_stack([np.eye(3)[POISON], np.eye(4)[TREATMENT]]))
    found = box_cox(TIMES, span)
    assert found is not None
    # R MASS::boxcox on a grid of 0.001: -0.750, -1.138 to -0.357 (the paper reports -0.75, from memory).
    assert found.power == pytest.approx(-0.75, abs=1e-3)
    assert (found.low, found.high) == pytest.approx((-1.138, -0.357), abs=1e-3)


def test_with_the_interaction() -> None:
    found = box_cox(TIMES, basis(np.eye(12)[POISON * 4 + TREATMENT]))
    assert found is not None
    assert found.power == pytest.approx(-0.816, abs=1e-3)
    assert (found.low, found.high) == pytest.approx((-1.294, -0.342), abs=1e-3)


def test_a_made_power_is_found_again_and_the_unit_does_not_matter() -> None:
    rng = np.random.default_rng(51)
    x = np.linspace(1, 3, 400)
    y = np.exp(1 + x + rng.normal(0, 0.2, 400))  # its logarithm is a line with even scatter: power 0
    span = basis(np.column_stack([np.ones(400), x]))
    found, in_grams = box_cox(y, span), box_cox(1000 * y, span)
    assert found is not None
    assert in_grams is not None
    assert found.low < 0 < found.high
    assert in_grams.power == pytest.approx(found.power, abs=1e-5)


@pytest.mark.parametrize("y", [np.array([1.0, 2.0, 0.0, 3.0, 4.0]), np.full(5, 2.0), np.array([1.0, 2.0])])
def test_what_has_no_power(y: np.ndarray) -> None:
    assert box_cox(y, basis(np.ones((y.size, 1)))) is None
