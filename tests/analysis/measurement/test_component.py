"""Budgets against the worked examples of JCGM 100 and Eurachem, and what they refuse."""

import json
import math
from pathlib import Path

import pytest

from analysis.measurement.component import Component, combine, coverage_factor, effective_df, share_words
from schemas.problem import ProblemError

REFERENCE = Path(__file__).parents[2] / "reference"
H1 = json.loads((REFERENCE / "budget" / "gum_h1.json").read_text())
PROPAGATION = json.loads((REFERENCE / "propagation" / "cases.json").read_text())


def line(u, sensitivity=1.0, *, df=math.inf, group="", name="a line", pool=""):
    return Component(name, u, sensitivity, df, "B" if math.isinf(df) else "A", group, pool=pool)


def test_the_end_gauge_of_gum_h1():
    lines = [line(u, df=df) for u, df in zip(H1["u_nm"], H1["df"], strict=True)]
    budget = combine(50_000_838.0, lines, unit="nm", level=0.99)

    assert budget.u == pytest.approx(H1["combined_u_nm"], abs=5e-4)
    assert budget.df == pytest.approx(H1["effective_df"], abs=5e-3)
    assert budget.coverage_factor == pytest.approx(H1["t_995"], abs=5e-5)
    # GUM multiplies 2.92 by the rounded 32 nm and prints 93; 2.9208 * 31.671 = 92.50.
    assert budget.expanded_u == pytest.approx(H1["expanded_u_nm"], abs=0.51)
    assert (budget.low, budget.high) == (50_000_838.0 - budget.expanded_u, 50_000_838.0 + budget.expanded_u)


def test_eurachem_example_a1():
    case = PROPAGATION["quam_a1"]
    (mass, u_mass), (purity, u_purity), (volume, u_volume) = case["mass"], case["purity"], case["volume"]
    value = 1000 * mass * purity / volume
    lines = [line(u_mass, value / mass), line(u_purity, value / purity), line(u_volume, -value / volume)]

    assert combine(value, lines, unit="mg/L").u == pytest.approx(case["u"], abs=5e-8)


@pytest.mark.parametrize(
    # Two-sided 95 % points of Student's t, as printed in JCGM 100, table G.2.
    ("df", "printed"),
    [(1, 12.71), (2, 4.30), (5, 2.57), (10, 2.23), (20, 2.09), (50, 2.01), (100, 1.984), (math.inf, 1.960)],
)
def test_coverage_factors_of_table_g2(df, printed):
    assert coverage_factor(df) == pytest.approx(printed, abs=5e-3 if df < 100 else 5e-4)


def test_degrees_of_freedom_are_cut_but_not_by_rounding():
    assert coverage_factor(16.99) == coverage_factor(16)
    assert coverage_factor(16 - 1e-12) == coverage_factor(16)
    assert coverage_factor(0.4) == coverage_factor(1)


def test_lines_of_one_pool_count_its_degrees_of_freedom_once():
    apart = [line(1.0, df=10, pool="one"), line(1.0, df=10, pool="two")]
    together = [line(1.0, df=10, pool="one"), line(1.0, df=10, pool="one")]
    # Two independent estimates: (1 + 1)^2 / (1/10 + 1/10) = 20. One estimate twice: 2^2 / (2^2 / 10) = 10.
    assert effective_df(apart) == pytest.approx(20)
    assert effective_df(together) == pytest.approx(10)


def test_without_scatter_the_degrees_of_freedom_are_infinite():
    budget = combine(1.0, [line(0.5), line(0.0, df=3)], unit="%")
    assert math.isinf(budget.df)
    assert budget.coverage_factor == pytest.approx(1.959964, abs=5e-7)


def test_an_exact_result_has_no_shares():
    budget = combine(20.0, [], unit="%")
    assert (budget.u, budget.expanded_u, budget.shares()) == (0.0, 0.0, {})
    assert share_words(budget.shares()) == ""


def test_shares_are_of_the_variance_by_group_largest_first():
    budget = combine(0.0, [line(1.0, group="dose"), line(2.0, -1.5, group="TDS"), line(1.0, group="TDS")], unit="%")
    assert list(budget.shares().items()) == [("TDS", pytest.approx(10 / 11)), ("dose", pytest.approx(1 / 11))]
    assert share_words(budget.shares()) == "TDS 91 %, dose 9 %"


@pytest.mark.parametrize(
    "bad", [line(math.nan), line(-0.1), line(math.inf), line(1.0, math.nan), line(1.0, df=0), line(1.0, df=math.nan)]
)
def test_a_line_that_is_no_number_is_refused(bad):
    with pytest.raises(ProblemError, match="a line"):
        combine(1.0, [bad], unit="%")
