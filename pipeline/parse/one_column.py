"""Text of one column to its type; what does not parse, by rule."""

from __future__ import annotations

from dataclasses import dataclass

import polars as pl

from pipeline.parse.cells import TextColumn
from pipeline.parse.model import Interpretation
from pipeline.parse.moments import parse_days, parse_times
from pipeline.parse.numbers import parse_numbers
from pipeline.parse.words import parse_booleans, parse_choices
from schemas.aliases_choices import CHOICE_WORDS

LARGEST_WHOLE = 2.0**53


@dataclass(frozen=True)
class TypedColumn:
    """Typed values, null where a cell is empty or does not parse; `rule` names what a cell breaks (None: nothing).

    `is_date` and `repeated_hour` belong to times: where only the day was given, and how many hours happened twice.
    """

    values: pl.Series
    rule: pl.Series | None = None
    is_date: pl.Series | None = None
    repeated_hour: int = 0


def parse_column(one: TextColumn, how: Interpretation) -> TypedColumn:
    """One column by its kind; constants (no own header) are written with a point and ISO dates."""
    kind = one.column.kind
    if kind == "text":
        return TypedColumn(one.text)
    if kind == "boolean":
        return _judged(one.text, parse_booleans(one.text), "not_yes_or_no")
    if kind == "choice":
        own_words = CHOICE_WORDS.get(one.column.name, {}) | how.words.get(one.column.name, {})
        return TypedColumn(parse_choices(one.text, one.column.choices, own_words))
    if kind == "date":
        days, rule = parse_days(one.text, order=how.date_order if one.reading else "iso")
        return TypedColumn(days, _if_any(rule))
    if kind == "time":
        order = how.date_order if one.reading else "iso"
        times = parse_times(one.text, order=order, zone=how.timezone, typed=how.typed)
        return TypedColumn(times.utc, _if_any(times.rule), times.is_date, times.repeated_hour)
    return _whole(one.text, _numbers(one, how)) if kind == "integer" else _numbers(one, how)


def _numbers(one: TextColumn, how: Interpretation) -> TypedColumn:
    values = parse_numbers(
        one.text,
        mark=how.decimal_mark if one.reading else ".",
        typed=how.typed,
        conversion=one.reading.conversion if one.reading else "",
        percent=one.column.unit == "%",
    )
    judged = _judged(one.text, values, "not_a_number")
    infinite = ~values.is_finite().fill_null(True)
    if not infinite.any():
        return judged
    rule = pl.select(pl.when(infinite).then(pl.lit("not_finite")).otherwise(judged.rule)).to_series()
    return TypedColumn(pl.select(pl.when(~infinite).then(values)).to_series(), rule)


def _whole(text: pl.Series, numbers: TypedColumn) -> TypedColumn:
    values = numbers.values
    whole = (values == values.floor()) & (values.abs() <= LARGEST_WHOLE)
    out = pl.select(pl.when(whole).then(values)).to_series().cast(pl.Int64)
    broken = values.is_not_null() & ~whole.fill_null(False)
    if not broken.any():
        return TypedColumn(out, numbers.rule)
    rule = pl.select(pl.when(broken).then(pl.lit("not_a_whole_number")).otherwise(numbers.rule)).to_series()
    return TypedColumn(out, rule)


def _judged(text: pl.Series, values: pl.Series, rule: str) -> TypedColumn:
    """A filled cell without a value breaks the rule."""
    if text.null_count() == values.null_count():
        return TypedColumn(values)
    broken = text.is_not_null() & values.is_null()
    return TypedColumn(values, pl.select(pl.when(broken).then(pl.lit(rule))).to_series())


def _if_any(rule: pl.Series) -> pl.Series | None:
    return rule if rule.null_count() < len(rule) else None
