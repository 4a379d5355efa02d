"""How many brews were made when, stacked by coffee."""

from __future__ import annotations

from datetime import date, timedelta
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
DAYS_IN = {"day": 1, "week": 7, "month": 31}
FEWEST_BARS = 14
EPOCH = date(1970, 1, 1)
MS_A_DAY = 86_400_000
WHOLE = alt.Axis(tickCount=4, labelExpr="datum.value % 1 ? '' : datum.label")


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
    ends = _ends(first, last, word)
    words = f"'Brews in this {word}: ' + format(datum.n, ',.0f') + ', ' + datum.coffee"
    return (
        alt.Chart(alt.NamedData("brews"), name="bars")
        .transform_timeunit(at_from=f"{unit}(at)")
        .transform_aggregate(n="sum(w)", groupby=["at_from", "at_from_end", "c", "coffee"])
        .transform_calculate(words=words)
        .mark_bar(orient="vertical", binSpacing=1, strokeWidth=0.8)
        .encode(
            x=alt.X(
                "at_from:Q", title=None, scale=alt.Scale(domain=ends, zero=False, nice=False), axis=_axis(ends, word)
            ),
            x2=alt.X2("at_from_end:Q"),
            y=alt.Y("n:Q", stack="zero", title=f"Brews a {word}", axis=WHOLE),
            fill=theme.coffee_fill(),
            stroke=theme.coffee_edge(),
            order=alt.Order("c:Q"),
            tooltip=alt.Tooltip("words:N"),
        )
        .properties(width="container", height=HEIGHT, description=f"Number of brews in each {word}, stacked by coffee.")
    )


def _ends(first: date, last: date, word: str) -> list[int]:
    """Both ends in ms since 1970, at least fourteen bars apart, so that one day is not as wide as the page."""
    length = timedelta(days=DAYS_IN[word])
    end = max(last + length, first + FEWEST_BARS * length)
    return [(day - EPOCH).days * MS_A_DAY for day in (first, end)]


def _axis(ends: list[int], word: str) -> Any:
    """Dates at even steps of whole bars, about eight of them."""
    step = DAYS_IN[word] * MS_A_DAY
    bars = (ends[1] - ends[0]) // step
    values = list(range(ends[0], ends[1], step * max(1, bars // 8)))
    style = "%b %Y" if word == "month" else "%-d %b"
    return alt.Axis(values=values, grid=False, labelExpr=f"utcFormat(datum.value, '{style}')")
