from __future__ import annotations

import moved_lab
import moved_pages
import numpy as np
import polars as pl
import pytest
from drawn_rows import description

from analysis.charts.effects.effect_rows import left_out_rows, mediated_rows, slope_rows
from analysis.charts.effects.risk_rows import effect_rows, risk_rows
from analysis.charts.effects.setting_lines import setting_chart, setting_domain, setting_lines
from analysis.charts.effects.share_bars import share_bars, share_rows


@pytest.fixture(scope="module")
def page(tmp_path_factory):
    return moved_pages.moved(moved_pages.take_in(tmp_path_factory.mktemp("lines")))


@pytest.fixture(scope="module")
def one(page):
    return page.moves[0]


@pytest.fixture(scope="module")
def lines(page, one):
    return {line.factor: line for line in setting_lines(one.result, page.facts, page.marks)}


def test_a_point_is_the_yield_less_what_the_other_settings_pull(page, one, lines):
    # Worked here by hand: y less slope times (setting less its mean) of each other setting.
    brews = one.result.residuals.select("brew_id").join(page.facts, on="brew_id", how="left", maintain_order="left")
    slopes = {row["term"]: row["estimate"] / (row["step"] or 1) for row in one.result.table.iter_rows(named=True)}
    expected = brews["extraction_yield_pct"].to_numpy().copy()
    for name in ("water_temp_c", "beverage_ratio"):
        values = brews[name].to_numpy().astype(float)
        expected -= slopes[name] * (values - values.mean())

    found = lines["grind_steps_finer"].marks
    numbers = dict(page.marks.all.select("brew_id", "i").iter_rows())
    order = np.argsort([numbers[name] for name in brews["brew_id"]])
    assert found["y"].to_numpy() == pytest.approx(expected[order], abs=1e-3)


def test_every_coffee_has_a_line_of_the_models_slope_and_no_further_than_its_brews(one, lines):
    marks = lines["water_temp_c"].marks
    (slope,) = one.result.table.filter(pl.col("term") == "water_temp_c")["estimate"]
    for _, own in marks.group_by("coffee"):
        rise = np.polyfit(own["x"].to_numpy(), own["line"].to_numpy(), 1)
        assert rise[0] == pytest.approx(slope, abs=1e-3)
        assert own["line"].mean() == pytest.approx(own["y"].mean(), abs=1e-3)
    assert marks["coffee"].n_unique() == 3


def test_the_chart_says_what_it_shows_and_which_way_is_finer(lines):
    one = lines["grind_steps_finer"]
    said = description(setting_chart("Pour over", one, setting_domain((one,))))

    assert one.title == "Grind (steps finer, finer to the right)"
    assert "yield against grind (-3 to 3 steps)" in said
    assert "42 brews" in said


def test_rows_by_coffee_carry_the_coffees_names_and_colours(page, one):
    rows = slope_rows(one.result.slopes_by_coffee, page.coffees)

    assert {key[0] for key in rows} == {"grind_steps_finer", "water_temp_c", "beverage_ratio"}
    for own in rows.values():
        assert {row.name for row in own} == {"Quiet Hill", "Tin Roof", "Long Meadow"}
        assert len({row.hue for row in own}) == 3


def test_the_headline_without_each_coffee_stands_below_that_of_all(page, one):
    headline = one.result.table.row(0, named=True)
    rows = left_out_rows(one.diagnosis.tables["left out"], headline, page.coffees)

    assert rows[0].name == "All brews"
    assert {row.name for row in rows[1:]} == {"Without Quiet Hill", "Without Tin Roof", "Without Long Meadow"}
    assert all(row.hollow for row in rows[1:])
    assert rows[0].estimate == headline["estimate"]


def test_total_and_direct_stand_in_pairs(one):
    rows = mediated_rows(one.mediation)

    assert [row.hollow for row in rows] == [False, True] * len(one.mediation.rows)


def test_risks_are_in_percent_points_and_channeled_brews_in_points(one):
    (effect,) = effect_rows(one.channeling)
    risks = risk_rows(one.channeling.risk)

    assert effect.low < moved_lab.CHANNELED < effect.high
    assert all(-100 <= row.estimate <= 100 and "percentage points" in row.words for row in risks)


def test_bars_hold_the_whole_spread(one):
    rows = share_rows(one.spread)

    assert sum(row["share"] for row in rows) == pytest.approx(100, abs=0.1)
    assert [row["name"] for row in rows][-2:] == ["Brew to brew", "Measurement"]
    assert "42 brews" in description(share_bars("Pour over", one.spread))
