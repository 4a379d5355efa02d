from __future__ import annotations

import csv
from collections import defaultdict
from pathlib import Path

import numpy as np
import pytest

from analysis.sensory.difference.binomial import exact_interval, p_two_sided
from analysis.sensory.difference.palates import FEWEST, Palates, alike, palate_interval, sign_flip_p

FromR = dict[tuple[str, str], float]
PANELS = ("mixed", "uneven", "binomial")
TOLERANCE = 1e-4


@pytest.fixture(scope="module")
def panels() -> dict[str, tuple[np.ndarray, np.ndarray]]:
    rows = defaultdict(list)
    with (Path(__file__).parents[3] / "reference" / "difference_tests" / "panels.csv").open() as lines:
        for row in csv.DictReader(lines):
            rows[row["panel"]].append((int(row["right"]), int(row["n"])))
    return {name: (np.array([r for r, _ in of]), np.array([n for _, n in of])) for name, of in rows.items()}


@pytest.mark.parametrize("panel", PANELS)
def test_beta_binomial_interval_equals_r(panel: str, panels: dict, from_r: FromR) -> None:
    found = palate_interval(Palates(*panels[panel]))

    assert found is not None
    assert found.share == pytest.approx(from_r["share", panel], abs=TOLERANCE)
    assert found.low == pytest.approx(from_r["palates_low", panel], abs=TOLERANCE)
    assert found.high == pytest.approx(from_r["palates_high", panel], abs=TOLERANCE)


@pytest.mark.parametrize("panel", PANELS)
def test_likeness_and_its_boundary_test_equal_r(panel: str, panels: dict, from_r: FromR) -> None:
    found = alike(Palates(*panels[panel]))

    assert found is not None
    assert found.value == pytest.approx(from_r["alike", panel], abs=1e-3)
    assert found.p == pytest.approx(from_r["alike_p", panel], abs=TOLERANCE)


@pytest.mark.parametrize("panel", PANELS)
def test_turning_palates_round_equals_every_turning_counted(panel: str, panels: dict, from_r: FromR) -> None:
    right, n = panels[panel]

    assert sign_flip_p(right, n - right) == pytest.approx(from_r["sign_flip_p", panel], rel=1e-9)


def test_one_answer_a_palate_is_the_exact_test_and_interval() -> None:
    right = np.repeat([1, 0], [14, 16])
    ones = np.ones(30, dtype=int)

    assert palate_interval(Palates(right, ones)) == exact_interval(14, 30)
    assert sign_flip_p(right, ones - right) == pytest.approx(p_two_sided(14, 30), rel=1e-12)
    assert alike(Palates(right, ones)) is None


def test_too_few_palates_with_several_answers_have_no_interval_in_general() -> None:
    few = FEWEST - 1

    assert palate_interval(Palates(np.full(few, 2), np.full(few, 3))) is None
    assert palate_interval(Palates(np.array([30]), np.array([30]))) is None


def test_all_right_counts_each_palate_once() -> None:
    found = palate_interval(Palates(np.full(8, 4), np.full(8, 4)))

    # Clopper & Pearson with all of n right: 0.025 ** (1 / n).
    assert found is not None
    assert (found.low, found.high) == (pytest.approx(0.025 ** (1 / 8)), 1.0)


def test_palates_that_never_waver_count_about_once() -> None:
    """Eight of ten always right: nearly the interval of ten answers, far from that of thirty."""
    found = palate_interval(Palates(np.repeat([3, 0], [8, 2]), np.full(10, 3)))

    assert found is not None
    assert found.low < exact_interval(8, 10).low + 0.03
    assert found.high > exact_interval(24, 30).high + 0.03


def test_a_confidence_that_five_palates_cannot_give_spans_everything() -> None:
    """t of 4 degrees of freedom at a tail of one in a million is 41: a likelihood never falls by 41**2 / 2 = 840."""
    found = palate_interval(Palates(np.array([3, 2, 1, 2, 0]), np.full(5, 3)), confidence=1 - 2e-6)

    assert found is not None
    assert (found.low, found.high) == (0.0, 1.0)
