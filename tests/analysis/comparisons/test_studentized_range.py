"""The studentized range against scipy's own and against printed upper 5 % points."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from analysis.comparisons.studentized_range import critical, upper_tail

PRINTED = {(3, 10): 3.88, (4, 20): 3.96, (5, 5): 5.67, (10, 60): 4.65, (6, np.inf): 4.03}
"""Upper 5 % points, as printed in most tables of the studentized range (Harter 1960; from memory, two decimals)."""


@pytest.mark.parametrize(("n_means", "df"), PRINTED)
def test_printed_five_percent_points(n_means, df):
    assert critical(n_means, df, 0.95) == pytest.approx(PRINTED[n_means, df], abs=0.006)


@pytest.mark.parametrize(
    ("q", "n_means", "df"), [(3.5, 3, 12.3), (1.0, 5, 4.0), (6.2, 8, 30.0), (4.0, 4, 900.0), (9.0, 3, 2.2)]
)
def test_as_scipy(q, n_means, df):
    assert upper_tail(q, n_means, df) == pytest.approx(float(stats.studentized_range.sf(q, n_means, df)), abs=1e-8)


def test_two_means_are_students_t():
    assert upper_tail(2.5 * np.sqrt(2), 2, 7.0) == pytest.approx(float(2 * stats.t.sf(2.5, 7.0)), abs=1e-12)


def test_no_range_is_exceeded_for_certain():
    assert upper_tail(0.0, 4, 10.0) == 1.0
