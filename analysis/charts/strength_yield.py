"""Strength against yield: one panel, every brew with its 95 % bars, ratio lines and boxes behind."""

from __future__ import annotations

from typing import Any

import altair as alt
import polars as pl

from analysis import words
from analysis.charts import palette, theme
from analysis.charts.boxes import TargetBox
from analysis.charts.described import range_words
from analysis.charts.domain import Domain, around, inside_fence
from analysis.charts.panels import Panel
from analysis.charts.ratio_lines import RatioLine, ratio_lines

HEIGHT = 340
LEAST_YIELD_SPAN = 4.0
LEAST_STRENGTH_SHARE = 0.2
"""A panel shows at least four points of yield, and a fifth of its strength."""


def strength_yield(panel: Panel, brews: pl.DataFrame, boxes: tuple[TargetBox, ...]) -> Any:
    """Chart of one panel over the dataset `brews`; `brews` here sets the ranges (columns y, s and their ends)."""
    yields, strengths = domains(brews, boxes)
    lines = ratio_lines(yields, strengths, panel.balance)
    x = theme.axis_x("y:Q", "Extraction yield (% of dose)", yields.low, yields.high)
    y = theme.axis_y(
        "s:Q", "Strength in the cup (% dissolved)", strengths.low, strengths.high, digits=_digits(strengths)
    )
    brush = alt.selection_interval(name="brush", encodings=["x", "y"])
    layers = [
        *(_box(box, x, y) for box in boxes),
        *_lines(lines, yields, strengths, x, y),
        _bars(x, y, alt.X2("y_high:Q"), "y_low:Q", along="x"),
        _bars(x, y, alt.Y2("s_high:Q"), "s_low:Q", along="y"),
        theme.brew_points(x, y).add_params(brush),
    ]
    about = f"{panel.title}: strength in the cup against extraction yield. {_in_words(brews)}"
    return theme.layered(layers, data=alt.NamedData("brews"), height=HEIGHT, about=about)


def _in_words(brews: pl.DataFrame) -> str:
    count = words.capital(words.count(brews.height, "brew"))
    yields, strengths = range_words("yield", brews["y"], 1, "%"), range_words("strength", brews["s"], 2, "%")
    return f"{count}: {yields}; {strengths}."


def on_panel(brews: pl.DataFrame) -> pl.DataFrame:
    """Brews with yield and strength that lie near the others; the rest would squeeze the chart."""
    both = brews.filter(pl.col("y").is_not_null(), pl.col("s").is_not_null())
    return both.filter(inside_fence("y", both["y"]), inside_fence("s", both["s"]))


def domains(brews: pl.DataFrame, boxes: tuple[TargetBox, ...]) -> tuple[Domain, Domain]:
    """Ranges of yield and strength: points near the others, boxes, bars to three points or a tenth of strength."""
    both = on_panel(brews)
    low_y, high_y = _ends(both, "y", pl.lit(3.0))
    low_s, high_s = _ends(both, "s", pl.col("s") / 10)
    box_y = [end for box in boxes for end in (box.yield_low, box.yield_high)]
    box_s = [end for box in boxes for end in (box.strength_low, box.strength_high)]
    strengths = [*low_s, *high_s, *box_s]
    least = LEAST_STRENGTH_SHARE * max((v for v in strengths if v is not None), default=1.0)
    return (
        around([*low_y, *high_y, *box_y], least=LEAST_YIELD_SPAN, floor=0.0),
        around(strengths, least=least, floor=0.0),
    )


def _ends(brews: pl.DataFrame, name: str, most: pl.Expr) -> tuple[list[float], list[float]]:
    """Ends of the bars of `name`, each at most `most` away from its point; the point itself where it has no bar."""
    value, low, high = pl.col(name), pl.col(f"{name}_low"), pl.col(f"{name}_high")
    ends = brews.select(
        pl.when(low.is_null()).then(value).otherwise(pl.max_horizontal(low, value - most)).alias("low"),
        pl.when(high.is_null()).then(value).otherwise(pl.min_horizontal(high, value + most)).alias("high"),
    )
    return ends["low"].to_list(), ends["high"].to_list()


def _digits(domain: Domain) -> int:
    return max(1, domain.decimals)


def _bars(x: Any, y: Any, end: Any, start: str, *, along: str) -> Any:
    start_x = theme.along(x, start) if along == "x" else x
    start_y = theme.along(y, start) if along == "y" else y
    channels = {"x": start_x, "y": start_y, "x2" if along == "x" else "y2": end}
    return (
        alt.Chart(name=f"bars_{along}")
        .mark_rule(strokeWidth=1, clip=True, color=palette.QUIET)
        .encode(**channels, opacity=theme.emphasis(0.45, 0.04))
    )


def _box(box: TargetBox, x: Any, y: Any) -> Any:
    corners = [{"x": box.yield_low, "x2": box.yield_high, "y": box.strength_low, "y2": box.strength_high}]
    look: dict[str, Any] = {"strokeDash": [5, 3], "fillOpacity": 0} if box.is_own else {"fillOpacity": 0.16}
    return (
        alt.Chart(alt.InlineData(values=corners), name="own_box" if box.is_own else "published_box")
        .mark_rect(fill=palette.TARGET, stroke=palette.TARGET, strokeOpacity=0.9, clip=True, **look)
        .encode(
            x=theme.along(x, "x:Q"),
            y=theme.along(y, "y:Q"),
            x2=alt.X2("x2:Q"),
            y2=alt.Y2("y2:Q"),
        )
    )


def _lines(lines: tuple[RatioLine, ...], yields: Domain, strengths: Domain, x: Any, y: Any) -> list[Any]:
    if not lines:
        return []
    points = [
        {"x": a, "y": b, "ratio": line.label}
        for line in lines
        for a, b in zip(line.yields_pct, line.strengths_pct, strict=True)
    ]
    encoded = {
        "x": theme.along(x, "x:Q"),
        "y": theme.along(y, "y:Q"),
    }
    curve = (
        alt.Chart(alt.InlineData(values=points), name="ratio_lines")
        .mark_line(color=palette.QUIET, strokeWidth=1, opacity=0.5, clip=True)
        .encode(**encoded, detail=alt.Detail("ratio:N"))
    )
    return [curve, *_labels(lines, yields, strengths, encoded)]


def _labels(lines: tuple[RatioLine, ...], yields: Domain, strengths: Domain, encoded: dict[str, Any]) -> list[Any]:
    """A label at the upper end of each line: above the frame where it leaves at the top, inside at the right edge."""
    top: list[dict[str, Any]] = []
    right: list[dict[str, Any]] = []
    for line in lines:
        end_yield, end_strength = line.yields_pct[-1], line.strengths_pct[-1]
        at_top = end_strength >= strengths.high - 1e-3 * (strengths.high - strengths.low)
        (top if at_top else right).append({"x": end_yield, "y": end_strength, "ratio": line.label})
    looks: tuple[tuple[str, list[dict[str, Any]], dict[str, Any]], ...] = (
        ("top", top, {"align": "center", "dy": -7}),
        ("right", right, {"align": "left", "dx": 4}),
    )
    return [
        alt.Chart(alt.InlineData(values=rows), name=f"ratio_labels_{side}")
        .mark_text(color=palette.QUIET, baseline="middle", fontSize=11, **look)
        .encode(**encoded, text=alt.Text("ratio:N"))
        for side, rows, look in looks
        if rows
    ]
