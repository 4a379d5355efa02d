"""Friedman, Kendall and Cochran to printed digits (check values 4.3, 4.4); exact laws against full enumeration."""

from __future__ import annotations

from itertools import permutations, product

import numpy as np
import pytest
from scipy import stats

from analysis.sensory.panel.ranks import cochran_q, friedman

ROUNDING = """
5.40 5.50 5.55|5.85 5.70 5.75|5.20 5.60 5.50|5.55 5.50 5.40|5.90 5.85 5.70|5.45 5.55 5.60|5.40 5.40 5.35|5.45 5.50 5.35
5.25 5.15 5.00|5.85 5.80 5.70|5.25 5.20 5.10|5.65 5.55 5.45|5.60 5.35 5.45|5.05 5.00 4.95|5.50 5.50 5.40|5.45 5.55 5.50
5.55 5.55 5.35|5.45 5.50 5.55|5.50 5.45 5.25|5.65 5.60 5.40|5.70 5.65 5.55|6.30 6.30 6.25
"""
"""Rounding first base: Hollander and Wolfe (1973), page 140; 22 players by three ways."""


def _rng():
    return np.random.default_rng(4)


def _bits(text: str) -> np.ndarray:
    return np.array([[int(one) for one in row] for row in text.split()])


def test_rounding_first_base():
    rows = [[float(one) for one in row.split()] for row in ROUNDING.strip().replace("\n", "|").split("|")]
    found = friedman(rows, rng=_rng())
    assert found is not None
    assert found.statistic == pytest.approx(11.142857, abs=5e-7)
    assert (found.df, found.n_blocks, found.n_products) == (2, 22, 3)
    assert found.p_chi2 == pytest.approx(0.003805041, abs=5e-10)
    assert found.concordance == pytest.approx(0.2532468, abs=5e-8)


@pytest.mark.parametrize(
    ("rows", "q", "p"),
    [
        ("111 111 010 110 000 111 111 110 001 010 111 111", 2.8, 0.246597),
        ("0001 0001 0001 1111 1001 0101 1001 0001 0100 0000 1001 0011", 13.2857143, 0.00405776),
    ],
)
def test_cochran_q_printed(rows, q, p):
    found = cochran_q(_bits(rows), rng=_rng())
    assert found is not None
    assert found.name == "Cochran's Q"
    assert found.statistic == pytest.approx(q, abs=5e-8)
    assert found.p_chi2 == pytest.approx(p, abs=5e-7)


@pytest.mark.parametrize(
    "rows",
    [
        [[1, 2, 3], [1, 3, 2], [1, 2, 3]],
        [[1, 1, 3], [2, 3, 3], [1, 2, 3], [5, 4, 6]],
        [[1, 2, 3, 4], [2, 1, 4, 3], [1, 1, 4, 3]],
    ],
)
def test_exact_law_is_every_arrangement_counted(rows):
    ranks = stats.rankdata(rows, axis=1)
    k = ranks.shape[1]
    every = [list(permutations(row)) for row in ranks]
    middle = len(rows) * (k + 1) / 2
    sums = [sum((np.array(one) for one in way), start=np.zeros(k)) for way in product(*every)]
    between = np.array([np.sum((one - middle) ** 2) for one in sums])
    seen = np.sum((ranks.sum(axis=0) - middle) ** 2)

    found = friedman(rows, rng=_rng())

    assert found is not None
    assert found.how == "exact"
    assert found.p_value == pytest.approx(np.mean(between >= seen - 1e-9))


def test_two_products_are_the_two_sided_sign_test():
    found = friedman([[1, 2]] * 9 + [[2, 1]], rng=_rng())
    assert found is not None
    assert found.p_value == pytest.approx(stats.binomtest(9, 10).pvalue)


def test_many_products_are_drawn_and_near_the_chi_squared_law():
    rows = np.random.default_rng(8).normal(size=(12, 9)) + np.linspace(0, 1.2, 9)
    found = friedman(rows, rng=_rng())
    assert found is not None
    assert found.how == "permutations"
    reference = stats.friedmanchisquare(*rows.T)
    assert found.statistic == pytest.approx(reference.statistic)
    assert found.p_value == pytest.approx(reference.pvalue, abs=0.02)


def test_full_agreement_is_one_and_ties_everywhere_are_no_test():
    whole = friedman([[1, 2, 3]] * 5, rng=_rng())
    assert whole is not None
    assert whole.concordance == pytest.approx(1.0)
    assert friedman([[2, 2, 2]] * 5, rng=_rng()) is None
    assert friedman([[1, 2, 3]], rng=_rng()) is None


def test_cochran_takes_no_other_numbers():
    with pytest.raises(ValueError, match="zeros and ones"):
        cochran_q([[0, 1, 2]], rng=_rng())
