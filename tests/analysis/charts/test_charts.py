"""Every chart: valid by Vega-Lite's own schema, described, and named the same at every run."""

from __future__ import annotations

import json
import re

import made_up_lab
import polars as pl
import pytest

from analysis.charts.boxes import boxes_for
from analysis.charts.brewing_days import brewing_days
from analysis.charts.brews import brew_marks
from analysis.charts.channeling_rows import channeling_rows
from analysis.charts.domain import Domain
from analysis.charts.effects_forest import effect_domains, effects_forest
from analysis.charts.residual_marks import residual_marks
from analysis.charts.residuals import against_fitted, against_normal, in_time
from analysis.charts.strength_yield import domains, on_panel, strength_yield
from analysis.charts.yield_by_coffee import yield_by_coffee, yield_domain

FACTS = made_up_lab.made_up_facts(n_brews=150)
MARKS = brew_marks(FACTS)
BREWS = MARKS.all.filter(pl.col("y").is_not_null())
PANEL = MARKS.panels[0]
EFFECTS = made_up_lab.made_up_effects(FACTS, "espresso").result


def charts():
    in_panel = BREWS.filter(pl.col("panel") == PANEL.key)
    boxes = boxes_for(PANEL, made_up_lab.made_up_targets())
    yield "strength", strength_yield(PANEL, in_panel, boxes)
    yield "yields", yield_by_coffee(PANEL, in_panel, MARKS.coffees, yield_domain(BREWS))
    yield "channeling", channeling_rows(PANEL, in_panel, yield_domain(BREWS))
    yield "effects", effects_forest("Espresso", EFFECTS.table, effect_domains([EFFECTS.table])[0])
    yield "days", brewing_days(MARKS.drawn)
    residuals = residual_marks(EFFECTS.residuals, MARKS)
    for make in (against_fitted, in_time, against_normal):
        yield make.__name__, make("Espresso", residuals)


CHARTS = dict(charts())


@pytest.mark.parametrize("name", CHARTS)
def test_chart_is_valid_described_and_has_no_counted_names(name):
    spec = CHARTS[name].to_dict()  # validates against the Vega-Lite schema

    assert len(spec["description"]) > 30
    text = json.dumps(spec)
    assert not re.search(r"(view|param)_\d+", text), "a counter in a name changes from run to run"
    assert "usermeta" not in text
    assert "http" not in text.replace(spec["$schema"], "")


@pytest.mark.parametrize("name", CHARTS)
def test_chart_is_the_same_at_every_run(name):
    assert dict(charts())[name].to_json() == CHARTS[name].to_json()


def test_ranges_hold_every_point_and_box_and_clip_absurd_bars():
    brews = BREWS.with_columns(y_low=pl.col("y") - 50, y_high=pl.col("y") + 50)
    boxes = boxes_for(PANEL, made_up_lab.made_up_targets())

    yields, strengths = domains(brews, boxes)

    assert yields.low <= brews["y"].min() - 2.9
    assert yields.high <= brews["y"].max() + 6
    assert strengths.low <= min(brews["s"].min(), 8.5)
    assert strengths.high >= max(brews["s"].max(), 10.5)


def test_brews_without_bars_do_not_widen_the_range():
    bare = BREWS.with_columns(y_low=pl.lit(None, pl.Float64), y_high=pl.lit(None, pl.Float64))

    yields, _ = domains(bare, ())

    assert yields.high < bare["y"].max() + 1.5


def test_panels_of_effects_share_a_scale_unless_one_is_far_wider():
    wide = EFFECTS.table.with_columns(low=pl.col("low") * 40, high=pl.col("high") * 40)

    shared = effect_domains([EFFECTS.table, EFFECTS.table])
    own = effect_domains([EFFECTS.table, EFFECTS.table, wide])

    assert shared[0] == shared[1]
    assert own[2] != own[0]
    assert all(isinstance(domain, Domain) and domain.low < 0 < domain.high for domain in own)


def test_a_mistyped_unit_does_not_squeeze_the_others():
    typo = BREWS.head(1).with_columns(pl.lit(0.2).alias("y"), pl.lit(0.01).alias("s"))
    brews = pl.concat([BREWS, typo])

    assert (
        on_panel(brews.filter(pl.col("panel") == PANEL.key)).height == BREWS.filter(pl.col("panel") == PANEL.key).height
    )
    assert yield_domain(brews) == yield_domain(BREWS)
    assert yield_domain(BREWS).low < BREWS["y"].min()


def test_descriptions_say_the_main_numbers():
    in_panel = BREWS.filter(pl.col("panel") == PANEL.key)
    said = {name: chart.to_dict(validate=False)["description"] for name, chart in CHARTS.items()}
    days = FACTS.filter(~pl.col("is_void")).group_by("brewed_on").len().sort("len", "brewed_on")
    clean = in_panel.filter(pl.col("state") == "clean")["y"]

    low, middle, high = in_panel["y"].min(), in_panel["y"].median(), in_panel["y"].max()
    assert f"{in_panel.height} brews: yield {low:.1f} to {high:.1f} %, median {middle:.1f} %" in said["strength"]
    assert f"clean: mean {clean.mean():.1f} %, {clean.len()} brews" in said["channeling"]
    assert "One step finer: +0.41 points, 95 % interval 0.31 to 0.51." in said["effects"]
    assert f"{MARKS.all.height} brews, 2 March to 17 April 2026; most in one day: {days['len'][-1]}" in said["days"]
    assert f"{EFFECTS.residuals.height} brews" in said["in_time"]
