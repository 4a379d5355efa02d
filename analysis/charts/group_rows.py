"""A row per group: its brews as points and, from five brews on, the mean with 50 % and 95 % intervals.

The interval is mean +- t(n - 1) s / sqrt(n). The page recomputes it for what a filter leaves, so the t quantile is the
series of Abramowitz and Stegun (1964), 26.7.5, within 0.3 % of the exact value from four degrees of freedom on.
"""

from __future__ import annotations

from typing import Any

import altair as alt

from analysis.charts import palette, theme
from analysis.charts.brews import Z95
from analysis.charts.domain import Domain

Z50 = 0.674490
"""Half width of a 50 % interval in standard uncertainties (normal distribution)."""
FEWEST_FOR_INTERVAL = 5
ROW_HEIGHT = 64
COUNT_WIDTH = 72
NAME_UP, POINTS_LOW, POINTS_HIGH, MEAN_DOWN = -22, -10, 8, 19


def t_quantile(z: float) -> str:
    """Vega expression of the t quantile whose normal counterpart is `z`, with `datum.n - 1` degrees of freedom."""
    terms = (
        (z**3 + z) / 4,
        (5 * z**5 + 16 * z**3 + 3 * z) / 96,
        (3 * z**7 + 19 * z**5 + 17 * z**3 - 15 * z) / 384,
    )
    return f"({z} + " + " + ".join(f"{c:.9f} / pow(datum.n - 1, {k})" for k, c in enumerate(terms, start=1)) + ")"


def group_rows(field: str, order: list[str], yields: Domain, about: str) -> Any:
    """Chart over the dataset `brews` with one row per value of `field`, in this order (every one of them has brews)."""
    rows = alt.Y(
        f"{field}:N",
        sort=order,
        title=None,
        axis=alt.Axis(labels=False, ticks=False, domain=False, grid=False),
        scale=alt.Scale(paddingInner=0, paddingOuter=0),
    )
    x = theme.axis_x("y:Q", "Extraction yield (% of dose)", yields.low, yields.high)
    lane = alt.YOffset(
        "j:Q", scale=alt.Scale(domain=[0, 1], range=[ROW_HEIGHT / 2 + POINTS_LOW, ROW_HEIGHT / 2 + POINTS_HIGH])
    )
    layers = [
        theme.brew_points(x, rows, size=42, yOffset=lane),
        _summary("interval_95", Z95, x, rows, width=1.5),
        _summary("interval_50", Z50, x, rows, width=5),
        _mean(x, rows),
        *_names(field, rows),
    ]
    return theme.layered(layers, data=alt.NamedData("brews"), height=ROW_HEIGHT * len(order), about=about)


def _summarised(name: str, rows: Any) -> Any:
    group = rows["shorthand"].removesuffix(":N")
    return (
        alt.Chart(name=name)
        .transform_aggregate(mean="mean(y)", sd="stdev(y)", n="valid(y)", groupby=[group])
        .transform_filter(f"datum.n >= {FEWEST_FOR_INTERVAL}")
    )


def _summary(name: str, z: float, x: Any, rows: Any, *, width: float) -> Any:
    half = f"{t_quantile(z)} * datum.sd / sqrt(datum.n)"
    return (
        _summarised(name, rows)
        .transform_calculate(low=f"datum.mean - {half}", high=f"datum.mean + {half}")
        .mark_rule(strokeWidth=width, color=palette.INK, clip=True, yOffset=MEAN_DOWN)
        .encode(x=theme.along(x, "low:Q"), x2=alt.X2("high:Q"), y=rows)
    )


def _mean(x: Any, rows: Any) -> Any:
    words = "'mean ' + format(datum.mean, '.1f') + ' % of ' + datum.n + ' brews'"
    return (
        _summarised("mean", rows)
        .transform_calculate(words=words)
        .mark_point(shape="stroke", angle=90, size=180, strokeWidth=2, color=palette.INK, clip=True, yOffset=MEAN_DOWN)
        .encode(x=theme.along(x, "mean:Q"), y=rows, tooltip=alt.Tooltip("words:N"))
    )


def _names(field: str, rows: Any) -> list[Any]:
    """The group's name at the left, cut if it is long, and its number of brews at the right, never cut."""
    look: dict[str, Any] = {"baseline": "middle", "fontSize": 12, "yOffset": NAME_UP}
    room = {"expr": f"width - {COUNT_WIDTH}"}
    counts = "format(datum.n, ',') + (datum.n == 1 ? ' brew' : ' brews')"
    return [
        alt.Chart(name="names")
        .transform_aggregate(n="valid(y)", groupby=[field])
        .mark_text(align="left", color=palette.INK, limit=room, **look)
        .encode(x=alt.value(0), y=rows, text=alt.Text(f"{field}:N")),
        alt.Chart(name="names_counts")
        .transform_aggregate(n="valid(y)", groupby=[field])
        .transform_calculate(label=counts)
        .mark_text(align="right", color=palette.QUIET, **look)
        .encode(x=alt.value("width"), y=rows, text=alt.Text("label:N")),
    ]
