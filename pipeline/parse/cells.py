"""The cells of one batch by the column they end up in, still as text, with the words to speak of them."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import polars as pl

from pipeline.parse.found import TIME_OF_DAY
from pipeline.parse.model import ColumnReading, Interpretation
from pipeline.parse.one_header import column_of
from schemas.column import Column

CLOCK = r"(?i)^([01]?\d|2[0-3]):[0-5]\d(:[0-5]\d([.,]\d+)?)?( ?[ap]\.?m\.?)?$"


@dataclass(frozen=True)
class TextColumn:
    """Text of one column: `name` as reasons call it, `label` as the user's sheet calls it, `column` its contract."""

    name: str
    label: str
    column: Column
    text: pl.Series
    reading: ColumnReading | None = None


def text_columns(batch: pl.DataFrame, how: Interpretation) -> Iterator[TextColumn]:
    """Every column of the sheet, the combined ids, then the constants."""
    if how.missing:
        cells = pl.exclude("line")
        batch = batch.with_columns(pl.when(~cells.is_in(list(how.missing))).then(cells))
    for reading in how.columns:
        if reading.role != "clock":
            column = column_of(how.table, reading.contract_column)
            yield TextColumn(reading.column, reading.header, column, batch[f"c{reading.position}"], reading)
    for combined in how.combined:
        parts = [pl.col(f"c{position}") for position in combined.positions]
        text = batch.select(pl.concat_str(parts, separator=combined.join)).to_series()
        label = " and ".join(how.header[position] for position in combined.positions)
        yield TextColumn(combined.column, label, column_of(how.table, combined.column), text)
    for name, value in how.constants.items():
        text = pl.repeat(value, batch.height, dtype=pl.String(), eager=True)
        yield TextColumn(name, name, column_of(how.table, name), text)


@dataclass(frozen=True)
class Clock:
    """The time-of-day column that joins a date: its text, and where its cells are no times of day."""

    label: str
    text: pl.Series
    bad: pl.Series


def clock_column(batch: pl.DataFrame, how: Interpretation) -> Clock | None:
    """The column of times of day, if the sheet has one."""
    reading = next((one for one in how.columns if one.column == TIME_OF_DAY), None)
    if reading is None:
        return None
    text = batch[f"c{reading.position}"]
    if how.missing:
        text = pl.select(pl.when(~text.is_in(list(how.missing))).then(text)).to_series()
    good = text.str.contains(CLOCK)
    return Clock(reading.header, pl.select(pl.when(good).then(text)).to_series(), text.is_not_null() & ~good)


def with_clock(dates: pl.Series, clock: pl.Series) -> pl.Series:
    """Dates with the time of day from the column beside them; a workbook's own midnight is left off first."""
    days = dates.str.replace(r"[T ]00:00(:00(\.0+)?)?$", "")
    return pl.select(pl.when(clock.is_not_null()).then(days + " " + clock).otherwise(dates)).to_series()
