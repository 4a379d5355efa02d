"""What measuring adds to a spread, by hand and against brews whose shared errors were drawn."""

from __future__ import annotations

import math

import numpy as np
import pytest

from analysis.measurement.component import Budget, Component, combine
from analysis.spread.measured import measured_spread


def budget(*, instrument: str, own_u: float, bias_u: float, sensitivity: float = 1.0) -> Budget:
    own = Component("TDS scatter", own_u, sensitivity, 12, "A", "TDS")
    bias = Component("TDS bias", bias_u, sensitivity, math.inf, "B", "TDS", shared=instrument)
    return combine(20.0, [own, bias], unit="%")


def test_one_instrument_moves_the_level_and_not_the_spread() -> None:
    found = measured_spread([budget(instrument="r-1", own_u=0.3, bias_u=0.2)] * 4, np.zeros(4, dtype=np.int64))
    assert found.own == pytest.approx(0.09)
    assert found.inside == found.beside == 0.0
    assert found.level_u == pytest.approx(0.2)
    assert found.instruments == ("r-1",)


def test_two_instruments_within_a_group_spread_its_brews() -> None:
    pair = [budget(instrument=name, own_u=0.0, bias_u=0.3) for name in ("r-1", "r-2")]
    found = measured_spread(pair, np.zeros(2, dtype=np.int64))
    # Two brews, biases b1 and b2 of variance 0.09 each: expected sample variance E (b1 - b2)^2 / 2 = 0.09.
    assert found.inside == pytest.approx(0.09)
    assert found.beside == 0.0
    # Their mean moves by (b1 + b2) / 2: variance 0.045.
    assert found.level_u == pytest.approx(math.sqrt(0.045))


def test_instruments_that_differ_between_groups_are_kept_apart() -> None:
    four = [budget(instrument=name, own_u=0.0, bias_u=0.3) for name in ("r-1", "r-1", "r-2", "r-2")]
    found = measured_spread(four, np.array([0, 0, 1, 1]))
    assert found.inside == 0.0
    # Indicator columns (1,1,0,0) and (0,0,1,1) have sample variance 1/3 each: 0.09 * (1/3 + 1/3) = 0.06.
    assert found.beside == pytest.approx(0.06)


def test_expected_spread_is_what_drawn_biases_give() -> None:
    rng = np.random.default_rng(20263)
    sensitivities, instruments = [1.0, 2.0, 1.5, 0.5, 1.0], ["r-1", "r-2", "r-1", "r-2", "r-2"]
    budgets = [
        budget(instrument=who, own_u=0.1, bias_u=0.25, sensitivity=c)
        for who, c in zip(instruments, sensitivities, strict=True)
    ]
    found = measured_spread(budgets, np.zeros(5, dtype=np.int64))
    bias = rng.normal(0, 0.25, (200_000, 2))
    moved = np.array(sensitivities) * bias[:, [0 if who == "r-1" else 1 for who in instruments]]
    assert found.inside == pytest.approx(float(moved.var(axis=1, ddof=1).mean()), rel=0.01)
    assert found.level_u == pytest.approx(float(moved.mean(axis=1).std()), rel=0.01)
