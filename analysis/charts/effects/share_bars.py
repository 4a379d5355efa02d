"""Where the spread comes from: a bar per source, as long as its share, with the 95 % interval of that share."""

from __future__ import annotations

from typing import Any

import altair as alt

from analysis.charts import palette
from analysis.charts.measurement.grammar import MARK_DOWN, chart_of_rows, layer, row_names, y_of_rows
from analysis.spread.sources import Source, SpreadSources
from analysis.words import capital, number, span

BAR_HEIGHT = 11


def share_rows(found: SpreadSources) -> list[dict[str, Any]]:
    """Rows of the chart, in the order of the model: share and its ends in percent."""
    return [_row(k, source) for k, source in enumerate(found.sources)]


def _row(k: int, source: Source) -> dict[str, Any]:
    share, sd = number(100 * source.share, 0), number(source.sd, 2)
    known = source.low is not None and source.high is not None
    low, high = (100 * (source.low or 0.0), 100 * (source.high or 0.0)) if known else (None, None)
    interval = f", 95 % interval {span(low, high, 0)} %" if low is not None and high is not None else ""
    return {
        "row": k,
        "name": capital(source.name),
        "share": round(100 * source.share, 2),
        "low": low,
        "high": high,
        "side": f"{share} %",
        "words": f"{capital(source.name)}: {share} % of the spread{interval}; alone {sd} points (standard deviation)",
    }


def share_bars(title: str, found: SpreadSources) -> Any:
    """Chart of one method."""
    rows = share_rows(found)
    scale, axis = alt.Scale(domain=[0, 100]), alt.Axis(tickCount=5)
    x: dict[str, Any] = {"title": "Share of the spread (% of the variance)", "scale": scale, "axis": axis}
    y, tip = y_of_rows(), alt.Tooltip("words:N")
    bars = (
        layer(rows, "bars")
        .mark_bar(height=BAR_HEIGHT, color=palette.QUIET, opacity=0.45, yOffset=MARK_DOWN)
        .encode(x=alt.X("share:Q", **x), y=y, tooltip=tip)
    )
    ends = (
        layer([row for row in rows if row["low"] is not None], "intervals")
        .mark_rule(strokeWidth=1.5, color=palette.INK, yOffset=MARK_DOWN)
        .encode(x=alt.X("low:Q", **x), x2=alt.X2("high:Q"), y=y, tooltip=tip)
    )
    said = ". ".join(row["words"] for row in rows)
    about = f"{title}: where the spread of {found.n_brews} brews comes from. {said}."
    return chart_of_rows([bars, ends, *row_names(rows)], len(rows), about)
