"""What the page says of smallest differences, against the plain arithmetic of known scatters."""

from __future__ import annotations

import math

import polars as pl
import pytest
from scipy import stats

from analysis.charts.measurement.method_budgets import MethodBudget
from analysis.charts.measurement.smallest_chart import difference_ends, smallest_chart
from analysis.charts.measurement.smallest_rows import smallest_by_method, widest_recipe
from analysis.measurement.measured import Mass, MeasuredBrew, ReadingGroup, Scale
from analysis.measurement.method_basis import usual_effort

SCALE = Scale("S1", 0.0)
GROUP = ReadingGroup("R1", 2, 2, 0.02, 10, 0.0, pool="R1")
# Percolation: yield = strength x 20, exact weights, so that only readings scatter.
BREW = MeasuredBrew("percolation", 1.0, (GROUP,), Mass(10.0, SCALE), beverage=Mass(200.0, SCALE))
BUDGET = MethodBudget("moka", 6, 0.5, 0.5, 0.5, (), (BREW,), 0, "")
REPEATS = [(0.98, 1.02), (1.19, 1.21), (1.10, 1.10)]


def readings(pairs=REPEATS, samples=(1, 1)):
    return pl.DataFrame(
        [
            (k, f"b{k}", "R1", "moka", False, sample, n + 1, None, value)
            for k, pair in enumerate(pairs)
            for n, (value, sample) in enumerate(zip(pair, samples, strict=True))
        ],
        schema=[
            "brew",
            "brew_id",
            "instrument_id",
            "method",
            "is_void",
            "sample_no",
            "reading_no",
            "read_by",
            "strength_pct",
        ],
        orient="row",
    )


def facts(groups):
    rows = [
        (f"{recipe}-{k}", recipe, "moka", "c", y, False)
        for recipe, yields in groups.items()
        for k, y in enumerate(yields)
    ]
    names = ["brew_id", "recipe_id", "method", "coffee_id", "extraction_yield_pct", "is_void"]
    frame = pl.DataFrame(rows, schema=names, orient="row")
    others = dict.fromkeys(("grinder_id", "grind_setting"), pl.lit(None, pl.String))
    numbers = dict.fromkeys(("dose_g", "water_ratio", "beverage_ratio"), pl.lit(None, pl.Float64))
    return frame.with_columns(**others, **numbers)


RECIPES = {"a": [19.0, 20.0, 21.0], "b": [18.5, 19.5]}


def test_two_brews_differ_by_t_times_the_scatter_of_their_means():
    (one,) = smallest_by_method((BUDGET,), facts(RECIPES), readings())

    # Squares within brews: 0.0008 + 0.0002 + 0 with 3 degrees of freedom; a mean of two, times 20, and two of them.
    u = 20 * math.sqrt(0.001 / 3 / 2) * math.sqrt(2)
    assert one.measured.u_difference == pytest.approx(u)
    assert one.measured.critical == pytest.approx(stats.t.ppf(0.975, 3) * u)
    assert [row.words for row in one.brews] == [
        "Two brews, 1 sample read twice",
        "… one more reading a sample",
    ]
    assert one.brews[1].found.u_difference == pytest.approx(u * math.sqrt(2 / 3))


def test_two_recipes_differ_by_t_times_the_scatter_of_brews_over_their_number():
    (one,) = smallest_by_method((BUDGET,), facts(RECIPES), readings())

    sd = math.sqrt((2.0 + 0.5) / 3)
    assert [row.found.effort.brews for row in one.recipes] == [1, 3, 5]
    for row in one.recipes:
        assert row.found.u_difference == pytest.approx(sd * math.sqrt(2 / row.found.effort.brews))
    assert one.usual.effort.brews == 3
    assert f"scatter by {sd:.2f} points" in one.recipe_scatter
    assert "5 brews of 2 recipes" in one.recipe_scatter


def test_without_repeats_and_without_a_recipe_brewed_twice_it_says_why():
    (one,) = smallest_by_method((BUDGET,), facts({"a": [19.0], "b": [20.0]}), readings([(1.0,), (1.1,)], (1,)))

    assert one.rows == ()
    assert "Read a drop three times" in one.no_brews
    assert "No recipe of moka was brewed twice" in one.no_recipes
    assert one.measured is one.usual is None


def test_the_usual_effort_is_the_lower_middle_of_what_was_done():
    mixed = pl.concat([readings(), readings([(1.0, 1.1)], (1, 2)).with_columns(brew=pl.lit(9, pl.Int64))])

    effort = usual_effort(mixed, "R1", "moka")
    assert (effort.samples, effort.readings_per_sample) == (1, 2)
    assert usual_effort(mixed, "R1", "espresso").readings_per_sample == 1


def test_three_people_who_read_a_brew_twice_each_are_no_usual_six_readings():
    studied = readings([(1.0, 1.1, 1.0, 1.1, 1.0, 1.1)], (1,) * 6)
    who = pl.Series("read_by", ["Ines", "Ines", "Jonas", "Jonas", "Mirek", "Mirek"])

    assert usual_effort(studied.with_columns(who), "R1", "moka").readings_per_sample == 2


def test_a_recipe_that_makes_most_of_the_scatter_is_named():
    wild = facts({"a": [19.0, 19.1], "b": [20.0, 20.1], "c": [18.0, 18.1], "d": [15.0, 21.0]})

    said = widest_recipe(wild, "moka")
    assert said.startswith("100 % of the scatter of brews to one recipe comes from one recipe of 2 brews")
    assert "d-0 and d-1 lie 6.0 points apart" in said


def test_a_recipe_brewed_most_is_not_blamed_for_its_number():
    usual = facts({"a": [19.0, 20.0, 19.5, 20.5, 19.2, 20.2], "b": [20.0, 20.5]})

    assert widest_recipe(usual, "moka") == ""


def test_panels_share_a_scale_unless_one_reaches_far_beyond():
    (one,) = smallest_by_method((BUDGET,), facts(RECIPES), readings())
    (far,) = smallest_by_method((BUDGET,), facts({"a": [0.0, 40.0], "b": [0.0, 40.0]}), readings())

    near = difference_ends([one, one, far])
    assert near[0] == near[1] < near[2]
    assert near[0] >= max(row.found.detectable for row in one.rows)
    assert difference_ends([]) == []


def test_the_chart_says_both_numbers_of_every_row():
    (one,) = smallest_by_method((BUDGET,), facts(RECIPES), readings())
    spec = smallest_chart(one, 5.0).to_dict()

    for row in one.rows:
        assert f"{row.words}: {row.found.critical:.2f} points may be" in spec["description"]
        assert f"{row.found.detectable:.2f} points is found" in spec["description"]
