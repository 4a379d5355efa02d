"""Do the weights add up: what each brew leaves unaccounted for, or the water its bed kept, in order of brewing."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import altair as alt
import polars as pl

from analysis.charts import palette, theme
from analysis.charts.described import range_words
from analysis.charts.domain import around
from analysis.charts.measurement.grammar import chart, difference_axis, flat, layer, points
from analysis.charts.measurement.method_budgets import spread_out
from analysis.measurement.closure_suspects import Suspect
from analysis.words import capital, count, method_word, number, signed

Limits = tuple[float, float]
MOST_POINTS = 1500
MOST_NAMED = 6
FENCE = 4.0
"""A brew this many half widths beyond its limits is drawn at the edge, so that the others are not squeezed."""


def residual_chart(brews: pl.DataFrame, method: str, suspects: Sequence[Suspect]) -> Any:
    """Residuals of one method in % of the water; `brews` have brew_id, residual_pct, u_pct and brewed_at."""
    rows = _rows(brews, "residual_pct", suspects, "% of the water unaccounted for", sign=True)
    _at_the_edge(rows, usual_residual(suspects))
    for row in rows:
        reach = 0.0 if row["far"] else 2 * row["u"]
        row |= {"low": row["value"] - reach, "high": row["value"] + reach}
    domain = around([*(row[end] for row in rows for end in ("low", "high")), 0.0], least=1.0)
    x = _order_axis(rows)
    y = difference_axis("value:Q", "Unaccounted for (% of the water)", domain)
    bars = (
        layer(rows, "bars")
        .mark_rule(color=palette.QUIET, strokeWidth=1, clip=True, opacity=0.6)
        .encode(x=x, y=theme.along(y, "low:Q"), y2=alt.Y2("high:Q"))
    )
    about = _about(method, brews, "residual_pct", "of the water unaccounted for", suspects)
    return chart([flat("zero", [0.0], y), bars, points(rows, x, y), *_named(rows, x, y)], about)


def retained_chart(brews: pl.DataFrame, method: str, suspects: Sequence[Suspect], limits: Limits | None) -> Any:
    """Water kept per gram of dose; `brews` have brew_id, retained_ratio and brewed_at, `limits` what is usual."""
    low, high = limits or (None, None)
    rows = _rows(brews, "retained_ratio", suspects, "g of water kept per g of dose", sign=False)
    _at_the_edge(rows, limits)
    domain = around([*(row["value"] for row in rows), low, high], least=0.5)
    x = _order_axis(rows)
    y = theme.axis_y("value:Q", "Water kept (g per g of dose)", domain.low, domain.high, digits=domain.decimals)
    lines = [flat("limits", [low, high], y, dashed=True)] if low is not None and high is not None else []
    about = _about(method, brews, "retained_ratio", "g of water kept per g of dose", suspects)
    return chart([*lines, points(rows, x, y), *_named(rows, x, y)], about)


def usual_residual(suspects: Sequence[Suspect]) -> Limits | None:
    """What is usual of a method's residuals, as its suspects were held against it; none where none stands apart."""
    if not suspects:
        return None
    return min(one.middle - one.limit for one in suspects), max(one.middle + one.limit for one in suspects)


def fence(limits: Limits) -> Limits:
    """Where the chart ends: `FENCE` half widths beyond the limits."""
    reach = FENCE * (limits[1] - limits[0]) / 2
    return limits[0] - reach, limits[1] + reach


def _at_the_edge(rows: Sequence[dict[str, Any]], limits: Limits | None) -> None:
    """Move what lies beyond the fence to it, marked as far."""
    for row in rows:
        low, high = fence(limits) if limits else (-math.inf, math.inf)
        row["far"] = not low <= row["value"] <= high
        row["value"] = min(max(row["value"], low), high)


def _in_order(brews: pl.DataFrame) -> pl.DataFrame:
    return brews.sort("brewed_at", "brew_id", nulls_last=True)


def _rows(
    brews: pl.DataFrame, column: str, suspects: Sequence[Suspect], what: str, *, sign: bool
) -> list[dict[str, Any]]:
    """Brews in order of time; of many, so many taken evenly, and every suspect."""
    names = {one.brew_id for one in suspects}
    ordered = _in_order(brews).with_row_index("order", offset=1)
    shown = spread_out(ordered, MOST_POINTS)
    if shown.height < ordered.height:
        shown = ordered.filter(pl.col("order").is_in(shown["order"].to_list()) | pl.col("brew_id").is_in(list(names)))
    digits = 1 if sign else 2
    return [
        {
            "order": row["order"],
            "value": row[column],
            "u": row.get("u_pct") or 0.0,
            "name": row["brew_id"],
            "odd": row["brew_id"] in names,
            "hollow": False,
            "words": f"{row['brew_id']}: {signed(row[column], digits) if sign else number(row[column], digits)} {what}",
        }
        for row in shown.iter_rows(named=True)
    ]


def _order_axis(rows: Sequence[dict[str, Any]]) -> Any:
    last = max(row["order"] for row in rows)
    domain = around([1, last], least=4.0, pad=0.03)
    return theme.axis_x("order:Q", "Brews in order of time", domain.low, domain.high)


def _named(rows: Sequence[dict[str, Any]], x: Any, y: Any) -> list[Any]:
    """Names beside the first suspects."""
    odd = [row for row in rows if row["odd"]][:MOST_NAMED]
    last = max(row["order"] for row in rows)
    sides: tuple[tuple[str, list[dict[str, Any]], dict[str, Any]], ...] = (
        ("right", [row for row in odd if row["order"] <= last / 2], {"align": "left", "dx": 8}),
        ("left", [row for row in odd if row["order"] > last / 2], {"align": "right", "dx": -8}),
    )
    return [
        layer(part, f"names_{side}")
        .mark_text(color=palette.INK, baseline="middle", fontSize=11, limit=110, **look)
        .encode(x=x, y=y, text=alt.Text("name:N"))
        for side, part, look in sides
        if part
    ]


def _about(method: str, brews: pl.DataFrame, column: str, what: str, suspects: Sequence[Suspect]) -> str:
    known = range_words("they lie from", brews[column].drop_nulls(), 2, what)
    names = f" To look at: {', '.join(one.brew_id for one in suspects[:MOST_NAMED])}." if suspects else ""
    return f"{capital(method_word(method))}: {count(brews.height, 'brew')} in order of time; {known}.{names}"
