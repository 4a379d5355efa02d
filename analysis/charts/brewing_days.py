"""How many brews were made when, stacked by coffee."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

import altair as alt
import polars as pl

from analysis import words
from analysis.charts import theme

HEIGHT = 170
SPANS = ((75, "1d", "day", 1), (500, "1w", "week", 7), (10**9, "1mo", "month", 31))
"""Longest log in days, length of a bar for polars, its word, its length in days."""
FEWEST_BARS = 14
MS_A_DAY = 86_400_000
WHOLE_LABELS = "datum.value % 1 ? '' : format(datum.value, ',d')"


def bar_length(first: date, last: date) -> tuple[str, str, int]:
    """Length of a bar, its word and its days: days up to 75 days, weeks up to 500, else months.

    >>> bar_length(date(2026, 3, 1), date(2026, 4, 1))
    ('1d', 'day', 1)
    """
    length = (last - first).days + 1
    return next((every, word, days) for most, every, word, days in SPANS if length <= most)


def day_of_brew() -> pl.Expr:
    """The calendar day of each brew of the facts."""
    return pl.coalesce("brewed_on", pl.col("brewed_at").dt.date()).alias("day")


def with_bars(brews: pl.DataFrame) -> pl.DataFrame:
    """Brews with `at` and `at_end`, both ends of the bar each belongs to, in milliseconds since 1970."""
    days = brews.select(day_of_brew())["day"]
    first, last = days.min(), days.max()
    if not isinstance(first, date) or not isinstance(last, date):
        return brews.with_columns(at=pl.lit(None, pl.Int64), at_end=pl.lit(None, pl.Int64))
    every, _, _ = bar_length(first, last)
    start = day_of_brew().dt.truncate(every)
    return brews.with_columns(at=_milliseconds(start), at_end=_milliseconds(start.dt.offset_by(every)))


def _milliseconds(day: pl.Expr) -> pl.Expr:
    return day.cast(pl.Int32).cast(pl.Int64) * MS_A_DAY


def brewing_days(brews: pl.DataFrame) -> Any:
    """Chart over the dataset `brews`; `brews` here (made by `with_bars`, with `w`) sets the ranges."""
    days = brews.select(day_of_brew())["day"].drop_nulls().sort()
    _, word, length = bar_length(days[0], days[-1])
    ends = _ends(brews, length)
    most = float(brews.group_by("at").agg(pl.col("w").sum()).select(pl.col("w").max()).item())
    tip = f"'Brews in this {word}: ' + format(datum.n, ',.0f') + ', ' + datum.coffee"
    return (
        alt.Chart(alt.NamedData("brews"), name="bars")
        .transform_aggregate(n="sum(w)", groupby=["at", "at_end", "c", "coffee"])
        .transform_calculate(words=tip)
        .mark_bar(orient="vertical", binSpacing=1, strokeWidth=0.8)
        .encode(
            x=alt.X("at:Q", title=None, scale=alt.Scale(domain=ends, zero=False, nice=False), axis=_axis(ends, word)),
            x2=alt.X2("at_end:Q"),
            y=alt.Y(
                "n:Q",
                stack="zero",
                title=f"Brews a {word}",
                scale=alt.Scale(domain=[0, most]),
                axis=alt.Axis(tickCount=4, tickMinStep=1, labelExpr=WHOLE_LABELS),
            ),
            fill=theme.coffee_fill(),
            stroke=theme.coffee_edge(),
            order=alt.Order("c:Q"),
            tooltip=alt.Tooltip("words:N"),
        )
        .properties(width="container", height=HEIGHT, description=_in_words(brews, word))
    )


def _in_words(brews: pl.DataFrame, word: str) -> str:
    days = brews.select(day_of_brew())["day"].drop_nulls().sort()
    bars = brews.group_by("at").agg(pl.col("w").sum().alias("n"), day_of_brew().min()).sort("n", "at")
    n, _, first = bars.select("n", "at", "day").row(-1)
    when = f"{'on' if word == 'day' else 'from'} {words.day(first)}"
    return (
        f"Brews in each {word}, stacked by coffee: {words.count(round(brews['w'].sum()), 'brew')}, "
        f"{words.day_span(days[0], days[-1])}; most in one {word}: {round(n)}, {when}."
    )


def _ends(brews: pl.DataFrame, length: int) -> list[int]:
    """Both ends of the time axis, at least fourteen bars apart, so that one day is not as wide as the page."""
    start, end = (int(value) for value in brews.select(pl.col("at").min(), pl.col("at_end").max()).row(0))
    return [start, max(end, start + FEWEST_BARS * timedelta(days=length) // timedelta(milliseconds=1))]


def _axis(ends: list[int], word: str) -> Any:
    """Dates at even steps of whole bars, about eight of them."""
    length = next(days for _, _, name, days in SPANS if name == word) * MS_A_DAY
    bars = (ends[1] - ends[0]) // length
    values = list(range(ends[0], ends[1], length * max(1, bars // 8)))
    style = "%b %Y" if word == "month" else "%-d %b"
    return alt.Axis(values=values, grid=False, labelExpr=f"utcFormat(datum.value, '{style}')")
