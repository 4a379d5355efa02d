"""What the charts of this page share: rows with their names above them, axes of time, the colour of what is odd."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import UTC, datetime
from typing import Any
from zoneinfo import ZoneInfo

import altair as alt

from analysis.charts import palette, theme
from analysis.charts.domain import Domain

ALERT = "var(--alert)"
Row = Mapping[str, Any]
ROW_HEIGHT = 46
NAME_UP = -13
MARK_DOWN = 8
SIDE_WIDTH = 74
"""Room at the right end of a row's name for its numbers."""
HEIGHT = 230
MOST_LETTERS = 22
MS = 1000
DAY_MS = 86_400 * MS
DAY_STEPS = (1, 2, 7, 14, 28, 91, 182, 364, 1820, 7280)
MOST_TICKS = 7
LONG_DAYS = 400


def short(name: str) -> str:
    """A name that fits beside an axis.

    >>> short("lens-1"), short("The refractometer by the window")
    ('lens-1', 'The refractometer by…')
    """
    return name if len(name) <= MOST_LETTERS else f"{name[: MOST_LETTERS - 1].rstrip()}…"


def layer(rows: Sequence[Row], name: str) -> Any:
    """A named layer over rows of its own."""
    return alt.Chart(alt.InlineData(values=list(rows)), name=name)


def y_of_rows() -> Any:
    """Rows one below the other, in the order of their numbers in `row`."""
    return alt.Y("row:O", title=None, axis=None, scale=alt.Scale(padding=0))


def row_names(rows: Sequence[Row]) -> list[Any]:
    """Above each row its `name` at the left, cut if it is long, and `side`, its numbers, at the right."""
    look: dict[str, Any] = {"baseline": "middle", "yOffset": NAME_UP}
    y = y_of_rows()
    return [
        layer(rows, "names")
        .mark_text(align="left", color=palette.INK, limit={"expr": f"max(60, width - {SIDE_WIDTH})"}, **look)
        .encode(x=alt.value(0), y=y, text=alt.Text("name:N")),
        layer(rows, "names_side")
        .mark_text(align="right", color=palette.QUIET, **look)
        .encode(x=alt.value("width"), y=y, text=alt.Text("side:N")),
    ]


def chart_of_rows(layers: Sequence[Any], n_rows: int, about: str) -> Any:
    """A chart as high as its rows."""
    return _layered(layers, ROW_HEIGHT * n_rows, about)


def chart(layers: Sequence[Any], about: str, *, height: int = HEIGHT) -> Any:
    """A chart of the usual height."""
    return _layered(layers, height, about)


def _layered(layers: Sequence[Any], height: int, about: str) -> Any:
    return theme.layered(list(layers), data=alt.InlineData(values=[]), height=height, about=about, marks_brews=False)


def flat(name: str, heights: Sequence[float], y: Any, *, dashed: bool = False, color: str = palette.INK) -> Any:
    """Horizontal lines across the whole chart."""
    look: dict[str, Any] = {"strokeDash": [4, 3]} if dashed else {}
    rows = [{"at": height} for height in heights]
    return layer(rows, name).mark_rule(color=color, strokeWidth=1.3, clip=True, **look).encode(y=theme.along(y, "at:Q"))


def points(rows: Sequence[Row], x: Any, y: Any, *, shape: str = "circle", name: str = "points") -> Any:
    """A mark per row, filled in grey; in the colour of what needs a look where `odd` is true."""
    alert = {"test": "datum.odd", "value": ALERT}
    return (
        layer(rows, name)
        .mark_point(shape=shape, size=44, strokeWidth=1.2, clip=True, opacity=0.8)
        .encode(
            x=x,
            y=y,
            fill=alt.FillValue(palette.QUIET, condition=alert),
            stroke=alt.StrokeValue(palette.INK, condition=alert),
            fillOpacity=alt.FillOpacityValue(
                0.45,
                condition=[{"test": "datum.hollow", "value": 0}, {"test": "datum.odd", "value": 0.9}],
            ),
            tooltip=alt.Tooltip("words:N"),
        )
    )


def band(rows: Sequence[Row], name: str, y: Any, *, color: str = palette.QUIET, opacity: float = 0.16) -> Any:
    """Bands across the whole chart, from `low` to `high` of each row."""
    return (
        layer(rows, name)
        .mark_rect(fill=color, fillOpacity=opacity, clip=True)
        .encode(y=theme.along(y, "low:Q"), y2=alt.Y2("high:Q"), tooltip=alt.Tooltip("words:N"))
    )


def signed_labels(decimals: int) -> str:
    """An expression that writes an axis of differences with their signs."""
    return f"datum.value == 0 ? '0' : format(datum.value, '+.{decimals}f')"


def difference_axis(field: str, title: str, domain: Domain) -> Any:
    """A vertical axis of differences."""
    axis = theme.axis_y(field, title, domain.low, domain.high, digits=domain.decimals)
    axis["axis"]["labelExpr"] = signed_labels(domain.decimals)
    return axis


def local_ms(moment: datetime, timezone: str) -> int:
    """Milliseconds since 1970 as if the clock on the lab's wall were UTC, so that every reader sees the lab's days."""
    return int(moment.astimezone(ZoneInfo(timezone)).replace(tzinfo=UTC).timestamp() * MS)


def time_axis(field: str, start: int, end: int) -> Any:
    """A horizontal axis of days at even steps, both ends in `local_ms`."""
    days = (end - start) / DAY_MS
    step = next((step for step in DAY_STEPS if days / step <= MOST_TICKS), DAY_STEPS[-1])
    first = -(-start // DAY_MS) * DAY_MS
    style = "%b %Y" if days > LONG_DAYS else "%-d %b"
    axis = alt.Axis(
        values=list(range(first, end + 1, step * DAY_MS)),
        labelExpr=f"utcFormat(datum.value, '{style}')",
        grid=False,
    )
    return alt.X(field, title=None, scale=alt.Scale(domain=[start, end], zero=False, nice=False), axis=axis)
