"""Weights that do not add up: one brew far off squeezes none of the others."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import polars as pl
import pytest
from drawn_rows import drawn_rows

from analysis.charts.measurement.mass_charts import fence, residual_chart, usual_residual
from analysis.measurement.closure_suspects import Suspect
from analysis.measurement.closure_usual import Usual

USUAL = Usual("brews", 8, 0.7, 0.1, 0.3, 1.1)
FAR = Suspect("b3", "pour_over", "mass balance", -9.3, 0.7, 0.4, -25.0, -23.2, USUAL, ())


def brews(residuals):
    start = datetime(2026, 3, 2, tzinfo=UTC)
    rows = [(f"b{k}", value, 0.05, start + timedelta(days=k)) for k, value in enumerate(residuals)]
    return pl.DataFrame(rows, schema=["brew_id", "residual_pct", "u_pct", "brewed_at"], orient="row")


def drawn(suspects):
    return drawn_rows(residual_chart(brews([0.6, 0.7, 0.8, -9.3, 0.7]), "pour_over", suspects))


def test_a_brew_far_off_is_drawn_at_the_edge_without_a_bar_and_says_its_true_value():
    rows = {row["name"]: row for row in drawn([FAR])["bars"]}

    # Usual is 0.7 less and more 0.4; the chart ends four such half widths beyond.
    assert usual_residual([FAR]) == pytest.approx((0.3, 1.1))
    assert fence((0.3, 1.1)) == pytest.approx((-1.3, 2.7))
    assert (rows["b3"]["value"], rows["b3"]["low"], rows["b3"]["high"]) == pytest.approx((-1.3, -1.3, -1.3))
    assert "-9.3 % of the water" in rows["b3"]["words"]
    assert (rows["b0"]["low"], rows["b0"]["high"]) == pytest.approx((0.5, 0.7))


def test_where_none_stands_apart_all_are_drawn_where_they_lie():
    rows = {row["name"]: row for row in drawn([])["bars"]}

    assert usual_residual([]) is None
    assert rows["b3"]["value"] == -9.3
