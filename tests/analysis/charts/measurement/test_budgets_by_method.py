"""Shares and half widths by method, against a published arithmetic and a hand-made one."""

from __future__ import annotations

import math

import polars as pl
import pytest

from analysis.charts.measurement.budget_bars import budget_bars, shown_lines
from analysis.charts.measurement.method_budgets import (
    BudgetLine,
    MethodBudget,
    NoBudget,
    group_words,
    line_words,
    main_line,
    method_budgets,
    remedy,
    spread_out,
)
from schemas.lab import LabSettings

# check-values.md 2.1, the yield analogue of QUAM example A1 (COMPUTED there): TDS 1.25 u 0.02 %, beverage 288 u 0.5 g,
# dose 18 u 0.05 g give 20 % with u 0.3266375 and shares 0.959772 / 0.011300 / 0.028928.
SETTINGS = LabSettings(default_u={"tds_pct": 0.02, "beverage_g": 0.5, "dose_g": 0.05})
U, SHARES = 0.3266375, {"TDS": 0.959772, "dose": 0.028928, "beverage": 0.011300}
BREW = {
    "brew": 0, "brew_id": "a", "method": "pour_over", "is_void": False, "balance_used": "percolation",
    "tds_pct": 1.25, "dose_g": 18.0, "beverage_g": 288.0, "water_g": None, "evaporated_g": None, "bypass_g": None,
    "bypass_included": None, "bypass_before_reading": None, "moisture_pct": None, "scale_id": None,
    "scale_standard_uncertainty": None, "scale_resolution": None, "extraction_yield_pct": 20.0,
    "extraction_yield_expanded_u_pct": 1.959964 * U, "u_note": None,
}  # fmt: skip
GROUP = {
    "instrument_id": None, "n": 2, "n_repeats": 2, "scatter_pct": None, "scatter_df": None, "scatter_pool": "",
    "bias_u": 0.02, "unit_pct": 1.0, "resolution": 0.0, "correction_u": None, "correction_gain_u": None,
    "correction_centre": None,
}  # fmt: skip


def frame(*rows):
    return pl.DataFrame([BREW | {"brew": k} | row for k, row in enumerate(rows)], infer_schema_length=None)


def budgets(*rows):
    return method_budgets(frame(*rows), {k: [GROUP] for k in range(len(rows))}, SETTINGS)


def test_shares_of_a_brew_are_those_published():
    (one,), without = budgets({})

    assert one.groups == pytest.approx(SHARES, abs=5e-7)
    assert math.fsum(line.alone_points**2 for line in one.lines) == pytest.approx(U**2, rel=1e-6)
    assert one.half_width == pytest.approx(1.959964 * U)
    assert without == ()


def test_the_method_brewed_most_comes_first_and_void_brews_count_nowhere():
    found, _ = budgets({}, {"method": "moka"}, {"method": "moka"}, {"is_void": True})

    assert [(one.method, one.n_brews) for one in found] == [("moka", 2), ("pour_over", 1)]


def test_no_error_alone_makes_more_than_the_middle_yield_has():
    # By hand (percolation): a TDS bias of b moves 20 % by 16 b points; three brews have b = 0.01 %, one 0.1 %.
    biases = (0.01, 0.01, 0.01, 0.1)
    exact = LabSettings(default_u={"tds_pct": 0.02, "beverage_g": 0.0, "dose_g": 0.05})
    groups = {k: [GROUP | {"bias_u": bias}] for k, bias in enumerate(biases)}
    dose_u = 0.05 / 18 * 20
    variances = [(16 * bias) ** 2 + dose_u**2 for bias in biases]
    rows = ({"extraction_yield_expanded_u_pct": 1.959964 * math.sqrt(variance)} for variance in variances)
    (one,), _ = method_budgets(frame(*rows), groups, exact)

    expected = math.fsum(1 - dose_u**2 / variance for variance in variances) / 4
    assert one.groups["TDS"] == pytest.approx(expected, abs=1e-6)
    assert 1.959964 * max(line.alone_points for line in one.lines) < one.half_width
    assert math.fsum(line.alone_points**2 for line in one.lines) == pytest.approx(variances[0], rel=1e-6)


def test_yields_without_an_uncertainty_are_counted_with_the_commonest_reason():
    lacking = {"extraction_yield_expanded_u_pct": None}
    found, without = budgets(
        {},
        lacking | {"u_note": "no scale"},
        lacking | {"u_note": "no scale"},
        lacking | {"u_note": "other"},
        lacking | {"method": "moka", "u_note": "no lens"},
    )

    assert (found[0].n_brews, found[0].n_without, found[0].why_without) == (1, 3, "no scale")
    assert without == (NoBudget("moka", 1, "no lens"),)


def test_the_middle_and_the_quartiles_are_over_the_brews_of_the_method():
    (one,), _ = budgets(*({"extraction_yield_expanded_u_pct": u} for u in (0.5, 0.1, 0.3, 0.2, 0.4)))

    assert (one.half_low, one.half_width, one.half_high) == (0.2, 0.3, 0.4)


def test_many_rows_are_taken_evenly_from_first_to_last():
    taken = spread_out(pl.DataFrame({"k": range(1000)}), 4)

    assert taken["k"].to_list() == [0, 250, 500, 750]
    assert spread_out(taken, 4).equals(taken)


def test_lines_are_said_in_words_with_what_narrows_them():
    lines = [BudgetLine("TDS bias", "TDS", "B", 0.7, 0.2), BudgetLine("dose display step", "dose", "B", 0.3, 0.1)]

    assert line_words(main_line(lines)) == "Strength: refractometer offset"
    assert "reference" in remedy(lines[0])
    assert "finer display" in remedy(lines[1])
    assert main_line([]) is None
    assert group_words({"TDS": 0.7, "dose": 0.298, "water": 0.002}) == "strength 70 %, dose 30 %"


def test_the_chart_leaves_out_what_reads_nought_percent_and_says_the_rest():
    lines = (
        BudgetLine("TDS scatter", "TDS", "A", 0.955, 0.3),
        BudgetLine("dose bias", "dose", "B", 0.041, 0.06),
        BudgetLine("water bias", "water", "B", 0.004, 0.02),
    )
    one = MethodBudget("moka", 9, 0.6, 0.5, 0.7, lines, (), 0, "")

    assert [row["share"] for row in shown_lines(one)] == [95.5, 4.1]
    about = budget_bars(one).to_dict()["description"]
    # 1.96 times 0.3 and 0.06 points
    assert "Strength: scatter of readings: 96 % of the variance; alone it would make ±0.59 points" in about
    assert "±0.12 points" in about
    assert "9 brews" in about
