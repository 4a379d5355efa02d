"""Brews read or weighed on an instrument between the last check it passed and the next, with a failed one between."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import timedelta

import polars as pl

from analysis.facts.flags.ranges import VALID
from analysis.facts.flags.rows import FOUND, speak
from analysis.measurement.calibration_words import failure_parts, span_words
from analysis.measurement.doubt import Doubt
from schemas.lab import LabSettings

HOW_MANY = pl.when(pl.col("n") > 1).then(pl.format(" ({} readings of this brew)", "n")).otherwise(pl.lit(""))


def in_doubt(
    brews: pl.DataFrame, readings: pl.DataFrame, doubts: Sequence[Doubt], settings: LabSettings
) -> pl.DataFrame:
    """One flag for each brew and span: at its first reading in the span, or at the brew where a scale is in doubt.

    A reading was taken at read_at, else when its brew was made; where only the day is known, at some time of that day.
    """
    if not doubts:
        return pl.DataFrame(schema=FOUND)
    times = brews.filter(VALID).select("brew", "brewed_at", "brewed_at_is_date", "scale_id")
    read = readings.filter(VALID).join(times, on="brew", how="inner", maintain_order="left")
    read = read.with_columns(*_span(pl.coalesce("read_at", "brewed_at"), pl.col("read_at").is_null(), settings))
    weighed = times.with_columns(*_span(pl.col("brewed_at"), pl.lit(True), settings))
    return pl.concat([_of(doubt, read, weighed, settings) for doubt in doubts])


def _span(moment: pl.Expr, from_brew: pl.Expr, settings: LabSettings) -> tuple[pl.Expr, pl.Expr]:
    """`start` and `end` of the time in which a value was taken: one moment, or a whole day in the lab's zone."""
    day_only = from_brew & pl.col("brewed_at_is_date").fill_null(False)
    next_day = moment.dt.convert_time_zone(settings.timezone).dt.offset_by("1d").dt.convert_time_zone("UTC")
    end = pl.when(day_only).then(next_day - timedelta(microseconds=1)).otherwise(moment)
    return moment.alias("start"), end.alias("end")


def _of(doubt: Doubt, read: pl.DataFrame, weighed: pl.DataFrame, settings: LabSettings) -> pl.DataFrame:
    inside = pl.lit(True)
    if doubt.after is not None:
        inside &= pl.col("end") > doubt.after
    if doubt.before is not None:
        inside &= pl.col("start") < doubt.before
    said = failure_parts(doubt, timezone=settings.timezone)
    said["span"] = span_words(doubt, timezone=settings.timezone)
    words = {name: pl.lit(text) for name, text in said.items()}
    of_readings = (
        read.filter((pl.col("instrument_id") == doubt.instrument_id) & inside)
        .group_by("brew", maintain_order=True)
        .agg(pl.first("reading"), n=pl.len(), value=pl.first("tds_pct"))
        .select("brew", "reading", "value", how_many=HOW_MANY, **words)
    )
    of_scale = weighed.filter((pl.col("scale_id") == doubt.instrument_id) & inside).select(
        "brew", value="scale_id", how_many=pl.lit(""), **words
    )
    return pl.concat(
        [
            speak(of_readings, "reading_in_doubt", column="tds_pct", digits=4),
            speak(of_scale, "reading_in_doubt", column="scale_id"),
        ]
    )
