"""A gauge study: every reading by brew and reader, and the parts of the spread with their intervals."""

from __future__ import annotations

from typing import Any

import altair as alt
import polars as pl

from analysis.charts import palette
from analysis.charts.domain import around
from analysis.charts.measurement.grammar import (
    MARK_DOWN,
    chart,
    chart_of_rows,
    difference_axis,
    flat,
    layer,
    row_names,
    y_of_rows,
)
from analysis.measurement.gauge import PLAIN_NAMES, GaugeStudy
from analysis.words import capital, count, number, signed, span

SHAPES = ("circle", "triangle-up", "square", "diamond", "cross", "triangle-down", "triangle-right")
DIGITS = 4
NOT_DRAWN = ("reproducibility", "gauge", "total")
"""Sums of other parts: they stand in the table."""
MOST_BREWS = 60
WIDEST = 4.0
"""An interval is drawn to at most so many times the largest standard deviation."""
AIR = 1.05


def gauge_points(frame: pl.DataFrame, name: str) -> Any:
    """Readings less the mean of their brew, brew by brew, one colour and shape per reader.

    `frame` has brew_id, operator and tds_pct, as for `gauge_study`; of many brews the first sixty.
    """
    rows = with_offsets(frame)
    readers = rows["operator"].unique().sort().to_list()
    places = {reader: k for k, reader in enumerate(readers)}
    brews = rows["brew_id"].unique().sort().to_list()[:MOST_BREWS]
    marks = [
        {
            "brew": row["brew_id"],
            "off": row["off_pct"],
            "reader": places[row["operator"]],
            "words": (
                f"{row['brew_id']}, read by {row['operator']}: {number(row['tds_pct'], 3)} %, "
                f"{signed(row['off_pct'], 3)} from the mean of the brew"
            ),
        }
        for row in rows.filter(pl.col("brew_id").is_in(brews)).iter_rows(named=True)
    ]
    away = around(rows["off_pct"].to_list(), least=0.02)
    hues = [palette.hue_number(k) for k in range(len(readers))]
    x = alt.X("brew:N", title=None, sort=brews, axis=alt.Axis(labelLimit=90, labelAngle=-40, grid=True))
    y = difference_axis("off:Q", "Reading less the mean of its brew (%)", away)
    numbers = list(range(len(readers)))
    dots = (
        layer(marks, "points")
        .mark_point(size=55, strokeWidth=1.3, opacity=0.85)
        .encode(
            x=x,
            y=y,
            xOffset=alt.XOffset("reader:O"),
            fill=alt.Fill("reader:N", legend=None, scale=_scale(numbers, [f"var(--fill-{k})" for k in hues])),
            stroke=alt.Stroke("reader:N", legend=None, scale=_scale(numbers, [f"var(--edge-{k})" for k in hues])),
            shape=alt.Shape("reader:N", legend=None, scale=_scale(numbers, [SHAPES[k % len(SHAPES)] for k in numbers])),
            tooltip=alt.Tooltip("words:N"),
        )
    )
    about = (
        f"{name}: {count(rows.height, 'reading')} of {count(rows['brew_id'].n_unique(), 'brew')} by "
        f"{count(len(readers), 'reader')}, each less the mean of its brew: "
        f"{signed(min(rows['off_pct'].to_list()), 3)} to {signed(max(rows['off_pct'].to_list()), 3)} %."
    )
    return chart([flat("zero", [0.0], y), dots], about, height=260)


def _scale(domain: list[int], values: list[str]) -> Any:
    return alt.Scale(domain=domain, range=values)


def with_offsets(frame: pl.DataFrame) -> pl.DataFrame:
    """The readings with off_pct, each less the mean of its brew, in order."""
    value = pl.col("tds_pct")
    return frame.sort("brew_id", "operator", "tds_pct").with_columns(off_pct=value - value.mean().over("brew_id"))


def spread_chart(study: GaugeStudy, name: str) -> Any:
    """Standard deviations of the parts with their 95 % intervals."""
    rows = [
        {
            "row": k,
            "name": capital(PLAIN_NAMES[part.name]),
            "sd": part.sd,
            "low": part.sd_low,
            "high": part.sd_high,
            "side": f"{number(part.sd, DIGITS)} %",
            "words": (
                f"{capital(PLAIN_NAMES[part.name])}: standard deviation {number(part.sd, DIGITS)} %, 95 % interval "
                f"{span(part.sd_low, part.sd_high, DIGITS)}"
            ),
        }
        for k, part in enumerate(part for part in study.spreads.values() if part.name not in NOT_DRAWN)
    ]
    end = _end(study)
    scale = alt.Scale(domain=[0, end], nice=False)
    axis = alt.Axis(tickCount={"expr": "max(3, ceil(width / 90))"})
    x: dict[str, Any] = {"title": "Standard deviation (% strength)", "scale": scale, "axis": axis}
    y, tip = y_of_rows(), alt.Tooltip("words:N")
    layers = [
        layer(rows, "intervals")
        .mark_rule(strokeWidth=1.5, color=palette.INK, yOffset=MARK_DOWN, clip=True)
        .encode(x=alt.X("low:Q", **x), x2=alt.X2("high:Q"), y=y, tooltip=tip),
        layer(rows, "estimates")
        .mark_point(shape="diamond", size=100, filled=True, opacity=1, color=palette.INK, yOffset=MARK_DOWN)
        .encode(x=alt.X("sd:Q", **x), y=y, tooltip=tip),
        *row_names(rows),
    ]
    said = " ".join(f"{row['words']}." for row in rows)
    return chart_of_rows(layers, len(rows), f"{name}: how far each part of the study spreads. {said}")


def _end(study: GaugeStudy) -> float:
    """Right end of the axis, in % strength."""
    drawn = [part for part in study.spreads.values() if part.name not in NOT_DRAWN]
    largest = max(part.sd for part in drawn)
    reach = min(max(part.sd_high for part in drawn), WIDEST * largest)
    return AIR * max(largest, reach) or 1.0
