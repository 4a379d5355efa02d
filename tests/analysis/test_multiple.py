from __future__ import annotations

from itertools import product
from pathlib import Path

import numpy as np
import polars as pl
import pytest

from analysis.multiple import benjamini_hochberg, holm

REFERENCE = Path(__file__).parents[1] / "reference" / "p_adjust"
R = pl.read_csv(REFERENCE / "expected.csv", null_values="NA", schema_overrides={"holm": pl.Float64, "BH": pl.Float64})
# Benjamini & Hochberg (1995) JRSS B 57:289, section 4; adjusted values to the digits of check-values.md 3.8.
P_1995 = (
    0.0001, 0.0004, 0.0019, 0.0095, 0.0201, 0.0278, 0.0298, 0.0344, 0.0459, 0.3240, 0.4262, 0.5719, 0.6528, 0.7590, 1.0,
)  # fmt: skip
BH_1995 = (
    0.0015, 0.003, 0.0095, 0.035625, 0.0603, 0.063857, 0.063857, 0.0645, 0.0765, 0.486, 0.581182, 0.714875, 0.753231,
    0.813214, 1.0,
)  # fmt: skip


def test_the_published_example_rejects_what_the_paper_says() -> None:
    assert benjamini_hochberg(P_1995).round(6).tolist() == list(BH_1995)
    assert (benjamini_hochberg(P_1995) <= 0.05).sum() == 4
    assert (holm(P_1995) <= 0.05).sum() == 3


@pytest.mark.parametrize("case", R["case"].unique(maintain_order=True))
def test_every_case_agrees_with_r(case: str) -> None:
    rows = R.filter(pl.col("case") == case)
    p = rows["p"].cast(pl.Float64).to_numpy()

    np.testing.assert_allclose(holm(p), rows["holm"].to_numpy(), rtol=1e-14, equal_nan=True)
    np.testing.assert_allclose(benjamini_hochberg(p), rows["BH"].to_numpy(), rtol=1e-14, equal_nan=True)


def test_holm_is_the_closed_test_of_all_intersections() -> None:
    """Marcus, Peritz & Gabriel (1976): Holm is Bonferroni's test of every subset, the largest one counts."""
    p = np.array([0.011, 0.2, 0.02, 0.016])
    closed = [
        max(
            min(1.0, sum(chosen) * p[list(map(bool, chosen))].min())
            for chosen in product((0, 1), repeat=4)
            if chosen[k]
        )
        for k in range(4)
    ]

    np.testing.assert_allclose(holm(p), closed, rtol=1e-14)


def test_nothing_asked_is_nothing_adjusted() -> None:
    assert holm([]).size == 0
    assert np.isnan(benjamini_hochberg([np.nan])).all()


@pytest.mark.parametrize("p", [-0.1, 1.1])
def test_what_is_no_p_value_is_refused(p: float) -> None:
    with pytest.raises(ValueError, match="between 0 and 1"):
        holm([0.5, p])
