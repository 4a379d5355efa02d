"""Readings of one brew on one instrument that differ by more than the instrument's scatter."""

from __future__ import annotations

import math

import polars as pl

from analysis.facts.flags.ranges import VALID
from analysis.facts.flags.rows import speak
from analysis.repeatability import GROUP, scatter_of_others, within_brews
from analysis.words import number

MIN_DF = 10
MOST_DIGITS, UNKNOWN_DIGITS, ROUNDING = 6, 3, 1e-9
FACTOR = 4 * math.sqrt(2)
"""The difference of two readings has a standard deviation of sqrt(2) s; four of those is beyond chance."""


def readings_apart(readings: pl.DataFrame) -> pl.DataFrame:
    """Brews with two readings on one instrument further apart than `4 sqrt(2) s` and a display step, the furthest off.

    s is pooled over the other brews on that instrument and method, where they give 10 degrees of freedom, but not
    below the step of the display over sqrt(12); with fewer, s is the instrument's standard uncertainty if that is
    larger than this step, else nothing is flagged. The step is added as each of two readings is rounded by up to half.
    """
    used = readings.filter(VALID & pl.col("strength_pct").is_not_null())
    spread = used.group_by(GROUP, maintain_order=True).agg(
        pl.first("resolution", "standard_uncertainty", "unit_pct"),
        value=pl.col("strength_pct").max() - pl.col("strength_pct").min(),
    )
    groups = scatter_of_others(within_brews(used)).join(spread, on=GROUP, how="inner", nulls_equal=True)
    shown = pl.col("resolution").fill_null(0.0) * pl.col("unit_pct")
    step = shown / math.sqrt(12)
    named = pl.col("standard_uncertainty") * pl.col("unit_pct")
    s = (
        pl.when(pl.col("others_df") >= MIN_DF)
        .then(pl.max_horizontal("others_scatter_pct", step))
        .when(named > step)
        .then(named)
    )
    found = groups.with_columns(limit=FACTOR * s + shown, shown=shown).filter(
        (pl.col("value") > pl.col("limit") + 1e-9).fill_null(False)
    )
    found = found.join(_furthest_off(used, found), on=GROUP, how="inner", nulls_equal=True, maintain_order="left")
    instrument = pl.col("instrument_id").fill_null("an unnamed instrument")
    told = [at_the_display(*row) for row in found.select("value", "limit", "shown").iter_rows()]
    gaps, limits = (pl.Series([row[place] for row in told], dtype=pl.String) for place in (0, 1))
    found = found.select("brew", "reading", value=gaps, limit=limits, instrument=instrument)
    return speak(found, "readings_apart", column="tds_pct")


def at_the_display(gap: float, limit: float, step: float) -> tuple[str, str]:
    """Gap and limit with as many digits as a display of this step shows, the limit cut down to them.

    >>> at_the_display(0.19, 0.1797, 0.01), at_the_display(0.5, 0.44, 0.0)
    (('0.19', '0.17'), ('0.500', '0.440'))
    """
    digits = next((d for d in range(MOST_DIGITS) if step and abs(round(step, d) - step) < ROUNDING), UNKNOWN_DIGITS)
    cut = math.floor(limit * 10**digits + ROUNDING) / 10**digits
    return number(gap, digits), number(cut, digits)


def _furthest_off(used: pl.DataFrame, found: pl.DataFrame) -> pl.DataFrame:
    """Per brew and instrument found, the number of the reading furthest from their mean, the last of equals."""
    off = (pl.col("strength_pct") - pl.col("strength_pct").mean()).abs().round(9)
    wanted = used.join(found, on=GROUP, how="semi", nulls_equal=True, maintain_order="left")
    return wanted.group_by(GROUP, maintain_order=True).agg(pl.col("reading").sort_by(off, maintain_order=True).last())
