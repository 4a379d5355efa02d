"""What all charts share: type, axes, grid, and the two behaviours of a mark (emphasis, hover)."""

from __future__ import annotations

from typing import Any

import altair as alt

from analysis.charts import palette

FONT = "system-ui, -apple-system, 'Segoe UI', Roboto, 'Liberation Sans', sans-serif"
PICKED = alt.param(name="picked", value=None)
"""Set by the page: null, or an object whose keys are the numbers of the brews inside a brush."""
IS_PICKED = "picked == null || picked[datum.i]"

CONFIG: dict[str, Any] = {
    "background": "transparent",
    "font": FONT,
    "view": {"stroke": None},
    "axis": {
        "labelColor": palette.INK,
        "titleColor": palette.INK,
        "labelFontSize": 12,
        "titleFontSize": 13,
        "titleFontWeight": "normal",
        "titlePadding": 8,
        "gridColor": palette.GRID,
        "domainColor": palette.QUIET,
        "tickColor": palette.QUIET,
        "labelOverlap": True,
        "labelFlush": False,
    },
    "legend": {
        "labelColor": palette.INK,
        "titleColor": palette.INK,
        "labelFontSize": 11,
        "titleFontSize": 13,
        "titleFontWeight": "normal",
        "titleLimit": 320,
        "gradientLength": 260,
    },
    "text": {"color": palette.QUIET, "fontSize": 12},
    "rule": {"color": palette.QUIET},
}
"""Vega-Lite configuration, given once to every chart of the page."""


def layered(layers: list[Any], *, data: Any, height: int, about: str, marks_brews: bool = True) -> Any:
    """Layers over one dataset, as wide as the page gives; `marks_brews`: they answer to a brush.

    All of it goes into one constructor: every `properties` or `add_params` would copy all layers again.
    """
    more: dict[str, Any] = {"params": [PICKED.param]} if marks_brews else {}
    return alt.LayerChart(data=data, layer=layers, width="container", height=height, description=about, **more)


def emphasis(shown: float, faded: float = 0.08) -> Any:
    """Opacity of a brew's mark: faded when a brush is set and the brew lies outside it."""
    return alt.OpacityValue(faded, condition={"test": IS_PICKED, "value": shown})


def coffee_fill() -> Any:
    """Fill by the coffee's hue number `c`."""
    hues = palette.fill_range()
    return alt.Fill("c:N", scale=alt.Scale(domain=list(range(len(hues))), range=hues), legend=None)


def coffee_edge() -> Any:
    """Outline by the coffee's hue number `c`, dark or light enough for the paper."""
    hues = palette.edge_range()
    return alt.Stroke("c:N", scale=alt.Scale(domain=list(range(len(hues))), range=hues), legend=None)


def state_shape() -> Any:
    """Circle clean, triangle channeled, hollow square not looked at."""
    states = alt.Scale(domain=list(palette.CHANNELING_STATES), range=list(palette.STATE_SHAPES))
    return alt.Shape("state:N", scale=states, legend=None)


def brew_points(x: Any, y: Any, *, size: int = 55, **more: Any) -> Any:
    """One mark per brew of the dataset `brews` (or `residuals`), with hover and emphasis; a named, brushable layer."""
    return (
        alt.Chart(name="points")
        .mark_point(size=size, strokeWidth=1.3, clip=True)
        .encode(
            x=x,
            y=y,
            fill=coffee_fill(),
            stroke=coffee_edge(),
            shape=state_shape(),
            fillOpacity=alt.FillOpacityValue(0.75, condition={"test": "datum.state == 'not looked at'", "value": 0}),
            opacity=emphasis(0.9),
            tooltip=alt.Tooltip("i:N"),
            **more,
        )
    )


def axis_x(field: str, title: str, low: float, high: float, *, digits: int = 0) -> Any:
    """A horizontal axis with a fixed range, so that filters never move the scale."""
    scale = alt.Scale(domain=[low, high], zero=False, nice=False)
    step = 10.0**-digits
    axis = alt.Axis(format=f",.{digits}f", tickMinStep=step, tickCount={"expr": "max(2, ceil(width / 70))"})
    return alt.X(field, title=title, scale=scale, axis=axis)


def axis_y(field: str, title: str, low: float, high: float, *, digits: int = 0) -> Any:
    """A vertical axis with a fixed range."""
    scale = alt.Scale(domain=[low, high], zero=False, nice=False)
    axis = alt.Axis(format=f",.{digits}f", tickMinStep=10.0**-digits, tickCount=6)
    return alt.Y(field, title=title, scale=scale, axis=axis)


def along(axis: Any, field: str) -> Any:
    """The same axis for another field, so that layers share title, scale and ticks."""
    return type(axis)(field, title=axis["title"], scale=axis["scale"], axis=axis["axis"])
