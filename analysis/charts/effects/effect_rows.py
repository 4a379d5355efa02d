"""Rows of the interval charts about yield: coffee by coffee, with each coffee left out, total against direct."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import polars as pl

from analysis.charts.coffees import CoffeeKey
from analysis.charts.effects.interval_rows import INK_HUE, IntervalAxis, IntervalRow
from analysis.charts.plain_words import degrees
from analysis.effects.factors import FACTORS
from analysis.effects.words import decimals
from analysis.outcomes.mediators import Mediation
from analysis.words import capital, count, signed, span

CHANGE = IntervalAxis("Change of extraction yield (points)")
"""The axis of all charts whose rows are changes of the yield."""
MOST_ROWS = 25
MOST_PLACES = 2


def change_row(
    name: str,
    estimate: float,
    low: float | None,
    high: float | None,
    *,
    more: str = "",
    hue: int = INK_HUE,
    hollow: bool = False,
) -> IntervalRow:
    """A change of the yield in points; `more` is said after the interval.

    >>> change_row("A", 0.412, 0.30, 0.54, more="12 brews").words
    '+0.41 points, 95 % interval 0.30 to 0.54, 12 brews'
    """
    known = low is not None and high is not None
    places = decimals(low, high) if low is not None and high is not None else 2
    interval = f", 95 % interval {span(low, high, places)}" if low is not None and high is not None else ""
    said = f"{signed(estimate, places)} points{interval}{f', {more}' if more else ''}"
    side = signed(estimate, min(places, MOST_PLACES))
    return IntervalRow(name, estimate, low if known else None, high if known else None, side, said, hue, hollow)


def alike_places(rows: list[IntervalRow]) -> list[IntervalRow]:
    """The same rows with their numbers at the right to one number of decimals, that of the narrowest interval."""
    known = [decimals(row.low, row.high) for row in rows if row.low is not None and row.high is not None]
    places = min(max(known, default=2), MOST_PLACES)
    return [replace(row, side=signed(row.estimate, places)) for row in rows]


def slope_rows(slopes: pl.DataFrame, coffees: Mapping[str, CoffeeKey]) -> dict[tuple[str, str], list[IntervalRow]]:
    """Rows by (term, per), a row per coffee in the coffee's own colour, most brewed first."""
    found: dict[tuple[str, str], list[IntervalRow]] = {}
    ranked = sorted(
        slopes.iter_rows(named=True),
        key=lambda row: (-coffees[row["coffee_id"]].n_brews if row["coffee_id"] in coffees else 0, row["coffee_id"]),
    )
    for row in ranked:
        key = coffees.get(row["coffee_id"])
        name, hue = (key.label, key.hue) if key else (row["coffee_id"], INK_HUE)
        brews = count(row["n_brews"], "brew")
        one = change_row(name, row["estimate"], row["low"], row["high"], more=brews, hue=hue)
        found.setdefault((row["term"], row["per"]), []).append(one)
    return {key: alike_places(rows[:MOST_ROWS]) for key, rows in found.items()}


def left_out_rows(
    left_out: pl.DataFrame, whole: Mapping[str, object], coffees: Mapping[str, CoffeeKey]
) -> list[IntervalRow]:
    """The headline of all brews (`whole`: its row of the effects table), then without each coffee.

    With one coffee, without each session or operator. Levels without which no effect could be shown have no row.
    """
    term, per = str(whole["term"]), str(whole["per"])
    mine = left_out.filter(pl.col("term") == term, pl.col("per") == per, pl.col("estimate").is_not_null())
    if (mine["what"] == "coffee").any():
        mine = mine.filter(pl.col("what") == "coffee")
    ends = [float(str(whole[name])) for name in ("estimate", "low", "high")]
    first = change_row("All brews", *ends, more=count(int(str(whole["n_brews"])), "brew"))
    return alike_places([first, *(_without(row, coffees) for row in mine.head(MOST_ROWS).iter_rows(named=True))])


def _without(row: dict[str, object], coffees: Mapping[str, CoffeeKey]) -> IntervalRow:
    level, what = str(row["left_out"]), str(row["what"])
    name = coffees[level].label if what == "coffee" and level in coffees else f"{what} {level}"
    ends = [float(str(row[name])) for name in ("estimate", "low", "high")]
    left = f"{count(int(str(row['n_brews'])), 'brew')} left"
    return change_row(f"Without {name}", *ends, more=left, hollow=True)


def headline_words(term: str, per: str, step: float) -> str:
    """The change that a headline is stated for, with the grinder where each has its own.

    >>> headline_words("water_temp_c", "1 C", 1.0)
    '1 °C hotter'
    """
    factor = FACTORS[term]
    return degrees(factor.change_words(step) + per.removeprefix(factor.per(step)))


def mediated_rows(found: Mediation) -> list[IntervalRow]:
    """For every setting: in total (filled), and what is left at equal outcomes (hollow)."""
    rows = []
    for one in found.rows:
        name = capital(degrees(f"{FACTORS[one.factor].change_words(one.step)}{one.place}"))
        rows.append(change_row(f"{name}: in total", one.total, one.total_low, one.total_high))
        direct = change_row(f"{name}: directly", one.direct, one.direct_low, one.direct_high, hollow=True)
        rows.append(direct)
    return alike_places(rows)
