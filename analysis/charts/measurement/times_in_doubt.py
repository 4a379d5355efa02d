"""How many readings and weighed brews lie in the times when an instrument could not be relied on."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import timedelta

import polars as pl

from analysis.charts.measurement.first_answer import OpenDoubt
from analysis.measurement.doubt import Doubt


def open_doubts(doubts: Sequence[Doubt], readings: pl.DataFrame, brews: pl.DataFrame) -> tuple[OpenDoubt, ...]:
    """Every span with what lies in it: readings on a refractometer, brews on a weighing scale; void brews stay out.

    `readings` have instrument_id, is_void, read_at, brewed_at_is_date and at, when each was taken; `brews` brewed_at,
    brewed_at_is_date, scale_id and is_void. Where only the day is known, any moment of it counts.
    """
    read = readings.filter(~pl.col("is_void")).select(
        "instrument_id", "at", day_only=pl.col("read_at").is_null() & pl.col("brewed_at_is_date").fill_null(False)
    )
    weighed = brews.filter(~pl.col("is_void")).select(
        instrument_id="scale_id", at="brewed_at", day_only=pl.col("brewed_at_is_date").fill_null(False)
    )
    found = []
    for doubt in doubts:
        n, n_weighed = _held(doubt, read), _held(doubt, weighed)
        found.append(OpenDoubt(doubt, n, "reading") if n or not n_weighed else OpenDoubt(doubt, n_weighed, "brew"))
    return tuple(found)


def _held(doubt: Doubt, taken: pl.DataFrame) -> int:
    end = pl.when("day_only").then(pl.col("at") + timedelta(days=1)).otherwise("at")
    inside = (pl.col("instrument_id") == doubt.instrument_id) & pl.col("at").is_not_null()
    if doubt.after is not None:
        inside &= end > doubt.after
    if doubt.before is not None:
        inside &= pl.col("at") < doubt.before
    return taken.filter(inside).height
