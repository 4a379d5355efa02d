from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from analysis.charts.domain import Domain
from analysis.charts.ratio_lines import ratio_at, ratio_lines, strength_at, yield_at


def test_percolation_line_passes_through_the_espresso_everybody_knows():
    # Common practice, no source: 40 g of beverage at 10 % from a 20 g dose is a yield of 20 %.
    assert strength_at(20.0, 40 / 20, "percolation") == pytest.approx(10.0)


def test_immersion_line_counts_the_liquid_in_the_grounds():
    # Full immersion balance of Liang, Chan and Ristenpart (2021), Sci Rep 11:6904: 15 g dose, 225 g water and
    # 1.413079 % are a yield of 21.5000 %.
    assert strength_at(21.5, 225 / 15, "immersion") == pytest.approx(1.413079, abs=5e-6)


def test_the_wrong_balance_reads_another_strength():
    assert strength_at(21.5, 15.0, "percolation") > 1.43


@given(
    st.floats(1.0, 35.0),
    st.floats(1.0, 60.0),
    st.sampled_from(["percolation", "immersion"]),
)
def test_yield_strength_and_ratio_undo_each_other(yield_pct, ratio, balance):
    strength = strength_at(yield_pct, ratio, balance)

    assert yield_at(strength, ratio, balance) == pytest.approx(yield_pct, rel=1e-9)
    assert ratio_at(yield_pct, strength, balance) == pytest.approx(ratio, rel=1e-9)


@pytest.mark.parametrize(
    ("yields", "strengths", "balance"),
    [
        (Domain(15, 24), Domain(6.5, 13.5), "percolation"),
        (Domain(17, 24), Domain(1.05, 2.1), "percolation"),
        (Domain(19, 25), Domain(1.1, 1.7), "immersion"),
        (Domain(0, 30), Domain(0, 20), "percolation"),
        (Domain(0, 4), Domain(0, 0.2), "immersion"),
    ],
)
def test_lines_are_few_round_and_inside_the_panel(yields, strengths, balance):
    lines = ratio_lines(yields, strengths, balance)

    assert 2 <= len(lines) <= 6
    for line in lines:
        assert yields.low - 1e-3 <= line.yields_pct[0] <= line.yields_pct[-1] <= yields.high + 1e-3
        assert strengths.low - 1e-3 <= line.strengths_pct[0] <= line.strengths_pct[-1] <= strengths.high + 1e-3
        assert line.ratio == pytest.approx(round(line.ratio, 2))
