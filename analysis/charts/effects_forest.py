"""Effects on yield: estimate and interval per practical step, a zero line, one panel per method."""

from __future__ import annotations

from statistics import median
from typing import Any

import altair as alt
import polars as pl

from analysis import words
from analysis.charts import palette, theme
from analysis.charts.domain import Domain, around
from analysis.charts.effect_words import change_in_words
from analysis.charts.plain_words import degrees
from analysis.effects.words import decimals

ROW_HEIGHT = 46
NAME_UP = -13
MARK_DOWN = 8
ZERO_SIZE = 28
"""The zero line stands beside the marks only, so that it never runs through a name."""
TOO_WIDE = 5.0
"""Panels share one scale unless one of them spans this many times the median one."""


def shown_terms(table: pl.DataFrame) -> pl.DataFrame:
    """Rows that belong on the chart: all but the intercepts and what has no interval."""
    return table.filter(~pl.col("term").str.starts_with("intercept"), pl.col("low").is_not_null())


def effect_domains(tables: list[pl.DataFrame]) -> list[Domain]:
    """Range of each panel, zero included: one for all, or one each when intervals differ too much in width."""
    each = [around([*t["low"], *t["high"], 0.0], least=0.2) for t in map(shown_terms, tables)]
    if not each:
        return []
    widths = [domain.high - domain.low for domain in each]
    if max(widths) > TOO_WIDE * median(widths) or max(widths) > 2 * TOO_WIDE * min(widths):
        return each
    shared = Domain(min(domain.low for domain in each), max(domain.high for domain in each))
    return [shared] * len(each)


def _words(row: dict[str, Any]) -> str:
    places = decimals(row["low"], row["high"])
    interval = words.span(row["low"], row["high"], places)
    return f"{words.signed(row['estimate'], places)} points, 95 % interval {interval}"


def effects_forest(title: str, table: pl.DataFrame, domain: Domain) -> Any:
    """Chart of one method's effects table."""
    rows = [
        {
            "row": k,
            "zero": 0,
            "name": words.capital(degrees(change_in_words(row))),
            "estimate": row["estimate"],
            "low": row["low"],
            "high": row["high"],
            "words": _words(row),
        }
        for k, row in enumerate(shown_terms(table).iter_rows(named=True))
    ]
    y = alt.Y("row:O", title=None, axis=None, scale=alt.Scale(padding=0))
    scale = alt.Scale(domain=[domain.low, domain.high], zero=False, nice=False)
    labels = f"datum.value == 0 ? '0' : format(datum.value, '+.{domain.decimals}f')"
    axis = alt.Axis(labelExpr=labels, tickCount={"expr": "max(3, ceil(width / 80))"})
    x: dict[str, Any] = {"title": "Change of extraction yield (points)", "scale": scale, "axis": axis}
    zero = alt.Chart(name="zero").mark_tick(
        orient="vertical", size=ZERO_SIZE, thickness=1.5, color=palette.INK, opacity=1, yOffset=MARK_DOWN
    )
    bars = alt.Chart(name="intervals").mark_rule(strokeWidth=1.5, color=palette.INK, yOffset=MARK_DOWN)
    points = alt.Chart(name="estimates").mark_point(
        shape="diamond", size=110, filled=True, opacity=1, color=palette.INK, yOffset=MARK_DOWN
    )
    names = alt.Chart(name="names").mark_text(
        align="left", color=palette.INK, baseline="middle", yOffset=NAME_UP, limit={"expr": "width"}
    )
    layers = [
        zero.encode(x=alt.X("zero:Q", **x), y=y),
        bars.encode(x=alt.X("low:Q", **x), x2=alt.X2("high:Q"), y=y, tooltip=alt.Tooltip("words:N")),
        points.encode(x=alt.X("estimate:Q", **x), y=y, tooltip=alt.Tooltip("words:N")),
        names.encode(x=alt.value(0), y=y, text=alt.Text("name:N")),
    ]
    said = " ".join(f"{row['name']}: {row['words']}." for row in rows)
    about = f"{title}: change of extraction yield. {said}"
    data, height = alt.InlineData(values=rows), ROW_HEIGHT * len(rows)
    return theme.layered(layers, data=data, height=height, about=about, marks_brews=False)
