from __future__ import annotations

import made_up_lab
import polars as pl
import pytest

from analysis.charts.boxes import PUBLISHED_HOT_DRIP, boxes_for
from analysis.charts.brews import brew_marks
from analysis.charts.panels import panels, with_panel
from analysis.charts.residual_marks import residual_marks


def test_void_brews_have_no_mark():
    facts = made_up_lab.made_up_facts(n_brews=120)
    marks = brew_marks(facts)

    assert facts["is_void"].sum() > 0
    assert marks.all.height == marks.drawn.height == 120 - facts["is_void"].sum()
    assert not marks.is_sample


def test_bars_are_1_96_standard_uncertainties_and_strength_scales_with_bypass():
    facts = made_up_lab.made_up_facts(n_brews=1).with_columns(
        extraction_yield_pct=pl.lit(20.0),
        extraction_yield_u_pct=pl.lit(0.5),
        tds_pct=pl.lit(2.0),
        tds_u_pct=pl.lit(0.1),
        cup_tds_pct=pl.lit(1.0),
    )

    brew = brew_marks(facts).all.row(0, named=True)

    assert (brew["y_low"], brew["y_high"]) == (pytest.approx(19.02), pytest.approx(20.98))
    assert (brew["s"], brew["s_low"], brew["s_high"]) == (1.0, pytest.approx(0.902), pytest.approx(1.098))


def test_without_uncertainty_there_is_a_point_and_no_bar():
    facts = made_up_lab.made_up_facts(n_brews=1).with_columns(
        extraction_yield_pct=pl.lit(20.0), extraction_yield_u_pct=pl.lit(None, pl.Float64)
    )

    brew = brew_marks(facts).all.row(0, named=True)

    assert brew["y"] == 20.0
    assert brew["y_low"] is brew["y_high"] is None


def test_a_sample_stands_for_every_brew_of_every_coffee_and_method():
    marks = brew_marks(made_up_lab.made_up_facts(n_brews=900), sample_above=500, most_marks=100)

    assert marks.is_sample
    assert marks.drawn.height < 150
    assert marks.drawn["w"].sum() == pytest.approx(marks.all.height)
    groups = ("panel", "coffee_id")
    assert marks.drawn.select(groups).unique().height == marks.all.select(groups).unique().height


def test_coffees_of_one_name_carry_their_id_and_the_rest_is_grey():
    names = ("Twin", "Twin", *(f"Coffee {k}" for k in range(8)))
    marks = brew_marks(made_up_lab.made_up_facts(n_brews=400, coffees=names))

    labels = {coffee.coffee_id: coffee.label for coffee in marks.coffees}
    assert (labels["C01"], labels["C02"]) == ("Twin (C01)", "Twin (C02)")
    assert [coffee.hue for coffee in marks.coffees] == [0, 1, 2, 3, 4, 5, 6, 7, 7, 7]
    brews = [coffee.n_brews for coffee in marks.coffees]
    assert brews == sorted(brews, reverse=True)


def test_a_method_on_two_balances_has_two_panels_and_the_published_box_stays_with_hot_drip():
    facts = made_up_lab.made_up_facts(n_brews=200)
    steeped = (pl.col("method") == "pour_over") & (pl.int_range(pl.len()) % 2 == 0)
    mixed = facts.with_columns(
        balance_used=pl.when(steeped).then(pl.lit("immersion")).otherwise(pl.col("balance_used"))
    )

    found = {panel.key: panel for panel in panels(with_panel(mixed))}

    assert {"pour_over:percolation", "pour_over:immersion", "espresso"} <= set(found)
    boxed = {key for key, panel in found.items() if PUBLISHED_HOT_DRIP in boxes_for(panel, None)}
    assert boxed == {"pour_over:percolation", "batch_brew"}


def test_own_target_box_needs_both_ranges_for_the_method_as_a_whole():
    targets = made_up_lab.made_up_targets()
    by_method = {panel.method: panel for panel in panels(with_panel(made_up_lab.made_up_facts(n_brews=200)))}

    (own,) = boxes_for(by_method["espresso"], targets)

    assert (own.yield_low, own.yield_high, own.strength_low, own.strength_high) == (18.5, 20.5, 8.5, 10.5)
    assert own.is_own
    assert boxes_for(by_method["moka"], targets) == ()


def test_normal_scores_are_bloms():
    # Blom's scores for n = 5: quantiles of (k - 0.375) / 5.25, printed as 1.18, 0.50, 0.00.
    facts = made_up_lab.made_up_facts(n_brews=5)
    residuals = facts.select("brew_id", fitted=pl.lit(20.0), residual=pl.Series([0.3, -0.5, 0.1, 0.9, -0.2]))

    marks = residual_marks(residuals, brew_marks(facts))

    assert marks["score"].to_list() == pytest.approx([0.50, -1.18, 0.0, 1.18, -0.50], abs=0.005)
    assert marks["order"].to_list() == [1, 2, 3, 4, 5]
