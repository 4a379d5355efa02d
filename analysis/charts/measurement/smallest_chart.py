"""How far two results must lie apart: two marks a row, the critical and the detectable difference."""

from __future__ import annotations

from collections.abc import Sequence
from statistics import median
from typing import Any

import altair as alt

from analysis.charts import palette
from analysis.charts.measurement.grammar import MARK_DOWN, chart_of_rows, layer, row_names, y_of_rows
from analysis.charts.measurement.smallest_rows import MethodSmallest
from analysis.words import capital, method_word, number

TOO_WIDE = 4.0
"""Panels share one scale unless one of them reaches this many times as far as the median one."""
AIR = 1.06


def difference_ends(methods: Sequence[MethodSmallest]) -> list[float]:
    """Right end of each method's axis, in points; 0 where it has no rows."""
    ends = [AIR * max((row.found.detectable for row in one.rows), default=0.0) for one in methods]
    drawn = [end for end in ends if end > 0]
    if not drawn:
        return ends
    limit = TOO_WIDE * median(drawn)
    shared = max(end for end in drawn if end <= limit)
    return [end if end > limit or end == 0 else shared for end in ends]


def smallest_chart(one: MethodSmallest, end: float) -> Any:
    """Chart of one method, its axis from 0 to `end` points."""
    rows = [
        {
            "row": k,
            "name": row.words,
            "critical": row.found.critical,
            "detectable": row.found.detectable,
            "side": f"{number(row.found.critical, 2)} / {number(row.found.detectable, 2)}",
            "words": (
                f"{row.words}: {number(row.found.critical, 2)} points may be measuring or brewing alone; a true "
                f"difference of {number(row.found.detectable, 2)} points is found in 8 of 10 comparisons"
            ),
        }
        for k, row in enumerate(one.rows)
    ]
    scale = alt.Scale(domain=[0, end], nice=False)
    axis = alt.Axis(tickCount={"expr": "max(3, ceil(width / 80))"})
    x: dict[str, Any] = {"title": "Difference of two yields (points)", "scale": scale, "axis": axis}
    y = y_of_rows()
    look: dict[str, Any] = {"yOffset": MARK_DOWN}
    mark: dict[str, Any] = {"size": 90, "opacity": 1, "stroke": palette.INK, "strokeWidth": 1.4, **look}
    tip = alt.Tooltip("words:N")
    layers = [
        layer(rows, "spans")
        .mark_rule(strokeWidth=1.5, color=palette.INK, **look)
        .encode(x=alt.X("critical:Q", **x), x2=alt.X2("detectable:Q"), y=y),
        layer(rows, "critical")
        .mark_point(shape="diamond", fill=palette.INK, **mark)
        .encode(x=alt.X("critical:Q", **x), y=y, tooltip=tip),
        layer(rows, "detectable")
        .mark_point(shape="diamond", fill="var(--paper)", **mark)
        .encode(x=alt.X("detectable:Q", **x), y=y, tooltip=tip),
        *row_names(rows),
    ]
    said = " ".join(f"{row['words']}." for row in rows)
    about = f"{capital(method_word(one.method))}: the smallest difference worth talking about. {said}"
    return chart_of_rows(layers, len(rows), about)
