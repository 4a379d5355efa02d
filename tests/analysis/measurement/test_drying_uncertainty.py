"""The budget of a strength by drying against drawn errors and against `uncertainties`, and its coverage."""

from __future__ import annotations

import math

import numpy as np
import polars as pl
import pytest
from uncertainties import ufloat

from analysis.measurement.drying import dried_strengths
from schemas.lab import DryingSettings, LabSettings
from tests.analysis.measurement.made_up_dryings import brews, dish, instruments, worksheet
from tests.reference.drying.coverage import CASES, TABLE, coverage

DRAWS = 400_000
CASES_BY_HAND = {
    # name: (scale step g, scale u g, volatile %, [(empty, full, before, last)], blanks gained g)
    "filter, fine scale": (0.0001, 0.0002, 0.8, [(30.0, 35.0, 30.0652, 30.0650), (31.0, 37.0, 31.0781, 31.0780)], 2),
    "filter, coarse scale": (0.001, 0.002, 0.0, [(30.0, 50.0, 30.261, 30.260), (31.0, 49.0, 31.234, 31.234)], 1),
    "espresso, small samples": (0.0001, 0.0003, 0.5, [(30.0, 31.0, 30.1003, 30.1000)], 1),
}


def budget_of(step, scale_u, loss, dishes, n_blanks):
    rows = [dish("a", number, e, f, before, y) for number, (e, f, before, y) in enumerate(dishes, start=1)]
    rows += [dish(None, n, 29.0, None, 29.0003, is_blank=True) for n in range(1, n_blanks + 1)]
    scale = {"instrument_id": "fine", "resolution": step, "standard_uncertainty": scale_u}
    settings = LabSettings(drying=DryingSettings(volatile_loss_u_pct=loss))
    (brew,) = dried_strengths(worksheet(*rows), instruments(scale), brews(a="pour_over"), settings=settings).brews
    return brew.tds_pct, {line.name: line for line in brew.budget.components}, brew.u_pct


@pytest.mark.parametrize("name", CASES_BY_HAND)
def test_u_is_the_spread_of_strengths_with_drawn_errors(name):
    """Scatter aside (its line is taken off), u must be the sd over draws: 0.11 % of itself is the sd's own error."""
    step, scale_u, loss, dishes, n_blanks = CASES_BY_HAND[name]
    value, lines, u = budget_of(step, scale_u, loss, dishes, n_blanks)
    scatter = lines["scatter of dishes"].contribution if "scatter of dishes" in lines else 0.0
    rng = np.random.default_rng(20260302)

    def display():
        return (rng.uniform(-0.5, 0.5, DRAWS) + rng.uniform(-0.5, 0.5, DRAWS)) * step

    residue_off, sample_off = rng.normal(0, scale_u, DRAWS), rng.normal(0, scale_u, DRAWS)
    blank = 0.0003 + sum(display() - display() for _ in range(n_blanks)) / n_blanks
    change, total = rng.uniform(-1, 1, DRAWS), 0.0
    for empty, full, before, last in dishes:
        d, s, y = empty + display(), full + display(), last + display()
        y = y + change * abs(last - before)
        total = total + 100 * (y - d - blank + residue_off) / (s - d + sample_off)
    drawn = total / len(dishes) * (1 + rng.normal(0, loss / 100, DRAWS))

    assert drawn.mean() == pytest.approx(value, rel=2e-4)
    assert drawn.std(ddof=1) == pytest.approx(math.sqrt(u**2 - scatter**2), rel=5e-3)


@pytest.mark.parametrize("name", CASES_BY_HAND)
def test_weighing_lines_agree_with_the_uncertainties_library(name):
    step, scale_u, loss, dishes, n_blanks = CASES_BY_HAND[name]
    _, lines, _ = budget_of(step, scale_u, loss, dishes, n_blanks)
    one = step * math.sqrt(2 / 12)
    blank = ufloat(0.0003, one * math.sqrt(2 / n_blanks))
    residue_off, sample_off = ufloat(0, scale_u), ufloat(0, scale_u)
    mean = sum(
        100 * (ufloat(y, one) - (d := ufloat(e, one)) - blank + residue_off) / (ufloat(f, one) - d + sample_off)
        for e, f, _, y in dishes
    ) / len(dishes)  # fmt: skip
    ours = math.hypot(
        *(lines[name].contribution for name in ("display step", "residue bias", "sample bias", "blank dish"))
    )
    assert ours == pytest.approx(mean.s, rel=1e-9)


@pytest.mark.slow
@pytest.mark.parametrize("case", CASES, ids=lambda case: case.name)
def test_intervals_hold_the_truth_as_often_as_the_table_says(case):
    table = dict(pl.read_csv(TABLE).select("case", "coverage").iter_rows())
    found = coverage(case)
    assert found >= 0.935
    assert found == pytest.approx(table[case.name], abs=0.001)
