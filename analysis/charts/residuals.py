"""Three looks at what a model leaves over: against fitted values, in order of time, against normal scores."""

from __future__ import annotations

from typing import Any

import altair as alt
import numpy as np
import polars as pl

from analysis import words
from analysis.charts import palette, theme
from analysis.charts.domain import Domain, around

HEIGHT = 220


def _residual_axis(marks: pl.DataFrame) -> tuple[Domain, Any]:
    domain = around([*marks["residual"], 0.0], least=0.5)
    return domain, theme.axis_y("residual:Q", "Residual (points of yield)", domain.low, domain.high, digits=1)


def _chart(x: Any, y: Any, line: Any, marks: pl.DataFrame, about: str) -> Any:
    about = f"{about} {_in_words(marks)}"
    layers = [line, theme.brew_points(x, y, size=36)]
    return theme.layered(layers, data=alt.NamedData("residuals"), height=HEIGHT, about=about)


def _in_words(marks: pl.DataFrame) -> str:
    """How far the marks lie from zero: both ends, and the root mean square."""
    if marks.is_empty():
        return "No brews."
    values = marks["residual"].to_numpy()
    typical = float(np.sqrt(np.mean(values**2)))
    return (
        f"{words.count(marks.height, 'brew')}, {words.signed(float(values.min()), 1)} to "
        f"{words.signed(float(values.max()), 1)} points, typically {words.number(typical, 2)} points from zero."
    )


def _zero(y: Any) -> Any:
    flat = alt.Chart(alt.InlineData(values=[{"y": 0}]), name="zero").mark_rule(strokeWidth=1.5, color=palette.INK)
    return flat.encode(y=theme.along(y, "y:Q"))


def against_fitted(title: str, marks: pl.DataFrame) -> Any:
    """Residual over fitted yield: a trumpet or a bend says the model misses something."""
    _, y = _residual_axis(marks)
    span = around(marks["fitted"].to_list(), least=1.0)
    x = theme.axis_x("fitted:Q", "Yield the model expects (% of dose)", span.low, span.high, digits=span.decimals)
    return _chart(x, y, _zero(y), marks, f"{title}: residuals against the yield that the model expects.")


def in_time(title: str, marks: pl.DataFrame) -> Any:
    """Residual over the order of brewing: a slope or a wave says that something drifted."""
    _, y = _residual_axis(marks)
    span = around([*marks["order"], 1], least=4.0, pad=0.03)
    x = theme.axis_x("order:Q", "Brews in order of time", span.low, span.high)
    return _chart(x, y, _zero(y), marks, f"{title}: residuals in the order of brewing.")


def against_normal(title: str, marks: pl.DataFrame) -> Any:
    """Residual over its normal score: points off the line at the ends are brews the model cannot explain."""
    domain, y = _residual_axis(marks)
    span = around(marks["score"].to_list(), least=2.0)
    x = theme.axis_x("score:Q", "Place among normal residuals (standard deviations)", span.low, span.high)
    line = _normal_line(marks, span, domain, x, y)
    return _chart(x, y, line, marks, f"{title}: residuals against their places among normal residuals.")


def _normal_line(marks: pl.DataFrame, span: Domain, domain: Domain, x: Any, y: Any) -> Any:
    """Line through the quartiles of the residuals, as far as the marks reach."""
    low, high = marks["residual"].quantile(0.25), marks["residual"].quantile(0.75)
    slope = ((high or 0.0) - (low or 0.0)) / (2 * 0.674490)
    middle = ((high or 0.0) + (low or 0.0)) / 2
    ends = marks["score"].min(), marks["score"].max()
    points = [{"x": float(end), "y": middle + slope * float(end)} for end in ends if isinstance(end, float)]
    return (
        alt.Chart(alt.InlineData(values=points), name="normal_line")
        .mark_line(strokeWidth=1.5, color=palette.INK, clip=True)
        .encode(
            x=theme.along(x, "x:Q"),
            y=theme.along(y, "y:Q"),
        )
    )
