"""Readings about the mean of their brew, by instrument and method: how far they scatter, and which stand apart."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import polars as pl
from scipy import stats

from analysis.charts import theme
from analysis.charts.domain import around
from analysis.charts.measurement.grammar import chart, difference_axis, flat, points
from analysis.charts.measurement.method_budgets import spread_out
from analysis.measurement.drops import DropScatter, drop_scatter
from analysis.words import capital, count, method_word, number, signed

LEVEL = 0.95
ODD, ODD_CHANCE = 3.5, 0.05
"""Readings this many of their own standard deviations from their brew's mean deserve a look (Iglewicz and Hoaglin); of
very many readings, as many as sound ones exceed in one log of twenty."""
MOST_POINTS = 1500
REPEATS = ("brew", "read_by")
"""A repeat is the same reader again, as in the budget: what readers differ by is for the gauge study."""
FEWEST_REPEATED = 5
"""Brews read more than once that a pair of instrument and method needs for a panel of its own."""


@dataclass(frozen=True, slots=True)
class ReadingScatter:
    """Repeats on one instrument and method; strengths in %.

    `readings` are those of brews with two or more, with mean_pct and off_pct (reading less mean) of their brew and
    `odd` where they stand apart. `sd` is pooled within brews with `df` degrees of freedom, `low` and `high` its 95 %
    interval. `drops` tells readings of one drop from drops of one brew.
    """

    instrument: str
    method: str
    n_brews: int
    n_repeated: int
    readings: pl.DataFrame
    sd: float | None
    low: float | None
    high: float | None
    df: int
    drops: DropScatter

    @property
    def title(self) -> str:
        """Instrument and method."""
        return f"{self.instrument or 'Unnamed instrument'}: {method_word(self.method)}"

    @property
    def odd_brews(self) -> pl.DataFrame:
        """Brews with such readings, and how far their readings lie apart: brew_id and apart_pct, farthest first."""
        value = pl.col("strength_pct")
        brews = self.readings.filter(pl.col("odd").any().over(REPEATS))
        return (
            brews.group_by("brew", maintain_order=True)
            .agg(pl.first("brew_id"), apart_pct=value.max() - value.min())
            .sort("apart_pct", "brew_id", descending=[True, False])
            .select("brew_id", "apart_pct")
        )

    @property
    def odd(self) -> pl.DataFrame:
        """Readings that stand apart, farthest first."""
        return self.readings.filter("odd").sort(
            pl.col("off_pct").abs(), "brew_id", "reading_no", descending=[True, False, False]
        )


def reading_scatters(readings: pl.DataFrame) -> tuple[ReadingScatter, ...]:
    """Every pair of instrument and method, most repeated brews first.

    Void brews and readings without a strength stay out. `readings` have brew, brew_id, instrument_id, method, is_void,
    sample_no, reading_no, read_by and strength_pct.
    """
    used = readings.filter(~pl.col("is_void"), pl.col("strength_pct").is_not_null())
    parts = used.partition_by("instrument_id", "method", maintain_order=True)
    found = [_of_pair(part) for part in parts]
    return tuple(sorted(found, key=lambda one: (-one.n_repeated, one.instrument, one.method)))


def _of_pair(part: pl.DataFrame) -> ReadingScatter:
    named, method = part["instrument_id"][0], part["method"][0]
    y = pl.col("strength_pct")
    with_mean = part.with_columns(n=pl.len().over(REPEATS), mean_pct=y.mean().over(REPEATS)).with_columns(
        off_pct=y - pl.col("mean_pct")
    )
    repeated = with_mean.filter(pl.col("n") > 1)
    n_repeated = repeated["brew"].n_unique()
    df = repeated.height - repeated.select(REPEATS).n_unique()
    sd = math.sqrt(math.fsum(value**2 for value in repeated["off_pct"]) / df) if df else None
    low, high = sd_interval(sd, df) if sd is not None else (None, None)
    own = (sd or 0.0) * ((pl.col("n") - 1) / pl.col("n")).sqrt()
    far = max(ODD, float(stats.norm.isf(ODD_CHANCE / 2 / max(repeated.height, 1))))
    repeated = repeated.with_columns(odd=(pl.col("off_pct").abs() > far * own) & (own > 0))
    drops = drop_scatter(part, instrument_id=named, method=method)
    return ReadingScatter(named or "", method, part["brew"].n_unique(), n_repeated, repeated, sd, low, high, df, drops)


def sd_interval(sd: float, df: int) -> tuple[float, float]:
    """The 95 % interval of a standard deviation, by chi-square.

    >>> [round(end, 3) for end in sd_interval(1.0, 10)]
    [0.699, 1.755]
    """
    ends = (0.5 + LEVEL / 2, 0.5 - LEVEL / 2)
    low, high = (sd * math.sqrt(df / float(stats.chi2.ppf(end, df))) for end in ends)
    return low, high


def scatter_words(one: ReadingScatter) -> str:
    """The scatter with its interval and n, inside a sentence."""
    if one.sd is None or one.low is None or one.high is None:
        return "no brew was read twice"
    return (
        f"{number(one.sd, 3)} % (95 % interval {number(one.low, 3)} to {number(one.high, 3)}; "
        f"{count(one.n_repeated, 'brew')} read more than once, {count(one.df, 'degree')} of freedom)"
    )


def scatter_chart(one: ReadingScatter) -> Any:
    """Chart of one pair that has repeats: reading less the mean of its brew, against that mean."""
    shown = spread_out(one.readings, MOST_POINTS)
    if one.readings["odd"].any() and shown.height < one.readings.height:
        shown = pl.concat([shown, one.odd]).unique(["brew", "read_by", "sample_no", "reading_no"], maintain_order=True)
    across = around(one.readings["mean_pct"].to_list(), least=0.1)
    away = around([*one.readings["off_pct"], 2 * (one.sd or 0.0), -2 * (one.sd or 0.0)], least=0.02)
    x = theme.axis_x("mean:Q", "Mean reading of the brew (% strength)", across.low, across.high, digits=across.decimals)
    y = difference_axis("off:Q", "Reading less the mean (%)", away)
    rows = [
        {
            "mean": row["mean_pct"],
            "off": row["off_pct"],
            "odd": row["odd"],
            "hollow": False,
            "words": (
                f"{row['brew_id']}, sample {row['sample_no']}, reading {row['reading_no']}: "
                f"{number(row['strength_pct'], 3)} %, {signed(row['off_pct'], 3)} from the mean of the brew"
            ),
        }
        for row in shown.iter_rows(named=True)
    ]
    layers = [flat("zero", [0.0], y)]
    if one.sd:
        layers.append(flat("twice_sd", [-2 * one.sd, 2 * one.sd], y, dashed=True))
    about = (
        f"{capital(one.title)}: {count(one.readings.height, 'reading')} less the mean of their brew, against that "
        f"mean. Standard deviation {scatter_words(one)}."
    )
    return chart([*layers, points(rows, x, y)], about)
