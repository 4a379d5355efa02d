"""How many brews were made when, stacked by coffee."""

from __future__ import annotations

from datetime import date
from typing import Any, Literal

import altair as alt

from analysis.charts import theme

HEIGHT = 170
TimeUnit = Literal["utcyearmonthdate", "utcyearweek", "utcyearmonth"]
UNITS: tuple[tuple[int, TimeUnit, str], ...] = (
    (75, "utcyearmonthdate", "day"),
    (500, "utcyearweek", "week"),
    (10**9, "utcyearmonth", "month"),
)


def time_unit(first: date, last: date) -> tuple[TimeUnit, str]:
    """Vega time unit and its word: days up to 75 days, weeks up to 500, else months.

    >>> time_unit(date(2026, 3, 1), date(2026, 4, 1))
    ('utcyearmonthdate', 'day')
    """
    length = (last - first).days + 1
    return next((unit, word) for most, unit, word in UNITS if length <= most)


def brewing_days(first: date, last: date) -> Any:
    """Chart over the dataset `brews` (columns `at` in milliseconds, `c`, `coffee`, `w`)."""
    unit, word = time_unit(first, last)
    words = f"'Brews in this {word}: ' + format(datum.n, ',.0f') + ', ' + datum.coffee"
    return (
        alt.Chart(alt.NamedData("brews"), name="bars")
        .transform_timeunit(at_from=f"{unit}(at)")
        .transform_aggregate(n="sum(w)", groupby=["at_from", "at_from_end", "c", "coffee"])
        .transform_calculate(words=words)
        .mark_bar(orient="vertical", binSpacing=1, strokeWidth=0.8)
        .encode(
            x=alt.X("at_from:T", title=None, scale=alt.Scale(type="utc"), axis=alt.Axis(tickCount=6, grid=False)),
            x2="at_from_end:T",
            y=alt.Y("n:Q", stack="zero", title=f"Brews a {word}", axis=alt.Axis(tickCount=4, tickMinStep=1)),
            fill=theme.coffee_fill(),
            stroke=theme.coffee_edge(),
            order=alt.Order("c:Q"),
            tooltip="words:N",
        )
        .properties(width="container", height=HEIGHT, description=f"Number of brews in each {word}, stacked by coffee.")
    )
