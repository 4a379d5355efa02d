"""The cells of one batch by the column they end up in, still as text, with the words to speak of them."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import polars as pl

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
    """Every column of the sheet, the combined ids, then the constants.

    A column added to a mended row may have a constant as well; the constant then fills its empty cells.
    """
    constants = dict(how.constants)
    if how.missing:
        cells = pl.exclude("line")
        batch = batch.with_columns(pl.when(~cells.is_in(list(how.missing))).then(cells))
    for reading in how.columns:
        if reading.role != "clock":
            column = column_of(how.table, reading.contract_column)
            text = batch[f"c{reading.position}"]
            if reading.column in constants:
                text = text.fill_null(constants.pop(reading.column))
            yield TextColumn(reading.column, reading.header, column, text, reading)
    for combined in how.combined:
        parts = [pl.col(f"c{position}") for position in combined.positions]
        text = batch.select(pl.concat_str(parts, separator=combined.join)).to_series()
        label = " and ".join(how.header[position] for position in combined.positions)
        yield TextColumn(combined.column, label, column_of(how.table, combined.column), text)
    for name, value in constants.items():
        text = pl.repeat(value, batch.height, dtype=pl.String(), eager=True)
        yield TextColumn(name, name, column_of(how.table, name), text)


@dataclass(frozen=True)
class ClockColumn:
    """The time-of-day column that joins a date: its own text, and where its cells are no times of day."""

    label: str
    own: pl.Series
    bad: pl.Series


def clock_column(batch: pl.DataFrame, how: Interpretation) -> ClockColumn | None:
    """The column of times of day, if the sheet has one."""
    reading = next((one for one in how.columns if one.role == "clock"), None)
    if reading is None:
        return None
    text = batch[f"c{reading.position}"]
    if how.missing:
        text = pl.select(pl.when(~text.is_in(list(how.missing))).then(text)).to_series()
    return ClockColumn(reading.header, text, ~text.str.contains(CLOCK).fill_null(True))


def with_clock(dates: pl.Series, clock: ClockColumn) -> pl.Series:
    """Dates with the time of day from the column beside them; a workbook's own midnight is left off first."""
    days = dates.str.replace(r"[T ]00:00(:00(\.0+)?)?$", "")
    joined = days + " " + clock.own
    return pl.select(pl.when(clock.own.is_not_null() & ~clock.bad).then(joined).otherwise(dates)).to_series()
