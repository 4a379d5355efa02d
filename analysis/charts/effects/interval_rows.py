"""Estimates one below the other, each with its 95 % interval: effects, risks, changes of a headline."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import altair as alt

from analysis.charts import palette
from analysis.charts.domain import Domain, around
from analysis.charts.measurement.grammar import MARK_DOWN, chart_of_rows, layer, row_names, signed_labels, y_of_rows

LINE_SIZE = 28
"""Lines stand beside the marks only, so that they never run through a name."""
INK_HUE = -1
AIR = 0.1
WIDEST = 6.0
"""An interval is drawn to at most so many times the middle half width, or half the span of the estimates."""


@dataclass(frozen=True, slots=True)
class IntervalRow:
    """One estimate with the ends of its 95 % interval (None: not known), in the axis' unit.

    `side` are its numbers, `words` its sentence. `hue` is the colour number of a coffee, -1 for ink; `hollow` marks
    what is shown beside the others for comparison.
    """

    name: str
    estimate: float
    low: float | None
    high: float | None
    side: str
    words: str
    hue: int = INK_HUE
    hollow: bool = False


@dataclass(frozen=True, slots=True)
class IntervalAxis:
    """`title` with its unit; `zero` draws the line of no change and writes signs, `guide` a grey line at a value.

    `floor` and `ceiling` are the lowest and highest value there can be.
    """

    title: str
    zero: bool = True
    guide: float | None = None
    floor: float | None = None
    ceiling: float | None = None


def interval_chart(title: str, rows: Sequence[IntervalRow], axis: IntervalAxis) -> Any:
    """The chart of these rows; what it shows also stands in its description."""
    domain = row_domain(rows, axis)
    marks = [_mark(k, row, domain) for k, row in enumerate(rows)]
    x, y, tip = _x(axis, domain), y_of_rows(), alt.Tooltip("words:N")
    bars = (
        layer([mark for mark in marks if mark["low"] is not None], "intervals")
        .mark_rule(strokeWidth=1.5, color=palette.INK, yOffset=MARK_DOWN)
        .encode(x=alt.X("low:Q", **x), x2=alt.X2("high:Q"), y=y, tooltip=tip)
    )
    points = (
        layer(marks, "estimates")
        .mark_point(shape="diamond", size=110, opacity=1, strokeWidth=1.4, yOffset=MARK_DOWN)
        .encode(
            x=alt.X("estimate:Q", **x),
            y=y,
            tooltip=tip,
            fill=alt.Fill("fill:N", scale=None),
            stroke=alt.Stroke("edge:N", scale=None),
        )
    )
    said = " ".join(f"{row.name}: {row.words}." for row in rows)
    return chart_of_rows([*_lines(marks, x, y, axis), bars, points, *row_names(marks)], len(rows), f"{title}. {said}")


def row_domain(rows: Sequence[IntervalRow], axis: IntervalAxis) -> Domain:
    """The range of the axis: every estimate, and intervals as far as they do not squeeze the others."""
    fixed = [value for value in (0.0 if axis.zero else None, axis.guide) if value is not None]
    estimates = [*fixed, *(row.estimate for row in rows)]
    known = [(row.low, row.high) for row in rows if row.low is not None and row.high is not None]
    halves = sorted((high - low) / 2 for low, high in known if math.isfinite(high - low))
    usual = halves[len(halves) // 2] if halves else 0.0
    reach = max(WIDEST * usual, (max(estimates) - min(estimates)) / 2)
    low, high = min(estimates) - reach, max(estimates) + reach
    ends = [min(max(end, low), high) for both in known for end in both]
    shown = around([*estimates, *ends], least=0.1, pad=AIR, floor=axis.floor)
    return Domain(shown.low, shown.high if axis.ceiling is None else min(shown.high, axis.ceiling))


def _mark(k: int, row: IntervalRow, domain: Domain) -> dict[str, Any]:
    """A row as the chart draws it; ends beyond the axis are cut at its edge, the words say them in full."""
    known = row.low is not None and row.high is not None
    low, high = (
        min(max(end, domain.low), domain.high) if known and end is not None else None for end in (row.low, row.high)
    )
    own = (palette.INK, palette.INK) if row.hue == INK_HUE else (f"var(--fill-{row.hue})", f"var(--edge-{row.hue})")
    return {
        "row": k,
        "zero": 0,
        "name": row.name,
        "estimate": row.estimate,
        "low": low,
        "high": high,
        "side": row.side,
        "words": f"{row.name}: {row.words}",
        "fill": "var(--paper)" if row.hollow else own[0],
        "edge": own[1],
    }


def _x(axis: IntervalAxis, domain: Domain) -> dict[str, Any]:
    ticks: dict[str, Any] = {"tickCount": {"expr": "max(3, ceil(width / 80))"}}
    if axis.zero:
        ticks["labelExpr"] = signed_labels(domain.decimals)
    scale = alt.Scale(domain=[domain.low, domain.high], zero=False, nice=False)
    return {"title": axis.title, "scale": scale, "axis": alt.Axis(**ticks)}


def _lines(marks: list[dict[str, Any]], x: dict[str, Any], y: Any, axis: IntervalAxis) -> list[Any]:
    """The line of no change, and the value that rows are held against."""
    wanted = (("zero", 0.0 if axis.zero else None, palette.INK), ("guide", axis.guide, palette.QUIET))
    look: dict[str, Any] = {"orient": "vertical", "size": LINE_SIZE, "thickness": 1.5, "opacity": 1}
    return [
        layer([{"row": mark["row"], "at": at} for mark in marks], name)
        .mark_tick(color=colour, yOffset=MARK_DOWN, **look)
        .encode(x=alt.X("at:Q", **x), y=y)
        for name, at, colour in wanted
        if at is not None
    ]
