"""Reasons against rows, in sentences; made for the failing rows only."""

from __future__ import annotations

import json
import re
from difflib import get_close_matches

from pipeline.parse.cells import TextColumn
from pipeline.parse.model import Interpretation
from pipeline.parse.one_header import remedy
from pipeline.parse.say import in_words, reason
from pipeline.parse.survey import COMMA, OPEN_COMMA, POINT
from schemas.aliases_choices import OPEN_CHOICES
from schemas.aliases_units import UNIT_WORDS, unit_of
from schemas.contracts import TABLES

NO_VALUE_WORDS = ("na", "n/a", "nan", "-", "--", "none", "null", "nil", "?", ".", "missing", "tbd", "x")
Sentences = tuple[str, str]


def unparsed(one: TextColumn, rule: str, value: str, how: Interpretation) -> Sentences:
    """What to say of a cell that is not of its column's kind."""
    if rule == "not_a_number":
        return _no_number(one, value, how)
    message, fix = reason(rule, column=one.label, value=value, zone=how.timezone)
    if rule == "ambiguous_date":
        line = 'date_order = "day_first" (or "month_first")'
        fix = f"Write the date as 2026-04-03, or add at the top of columns.toml: {line}."
    return message, fix


def _no_number(one: TextColumn, value: str, how: Interpretation) -> Sentences:
    conversion = one.reading.conversion if one.reading else ""
    unit = UNIT_WORDS.get(conversion, unit_of(one.column))
    message, fix = reason("not_a_number", column=one.label, value=value, unit=unit)
    shown = message.removesuffix(".")
    other, name = (COMMA, "point") if how.decimal_mark == "." else (POINT, "comma")
    if one.reading and one.reading.doubt and ":" in value:
        return f"{shown}; {one.reading.doubt}.", one.reading.remedy
    if unit in ("mm:ss", "h:mm:ss"):
        example = "2:30" if unit == "mm:ss" else "0:02:30"
        return (
            f"{one.label} should be a time as {unit}, not {in_words(value)}.",
            f"Write it as {unit}, such as {example}.",
        )
    if value.casefold() in NO_VALUE_WORDS:
        return message, f'Leave the cell empty, or add at the top of columns.toml: missing = ["{value}"].'
    if re.match(other, value):
        swapped = value.translate(str.maketrans(".,", ",."))
        return f"{shown}; this sheet writes decimals with a {name}.", f"Write {swapped}."
    if how.decimal_mark == "." and re.match(OPEN_COMMA, value):
        return (
            f"{shown}; the comma could mark decimals or thousands.",
            f"Write {value.replace(',', '.')} or {value.replace(',', '')}, "
            'or add at the top of columns.toml: decimal_mark = ",".',
        )
    return message, fix


def _no_choice(one: TextColumn, word: str) -> Sentences:
    """A word outside its list: the likely one, or the question it leaves open, and where to say what it means."""
    column = one.column
    message, fix = reason("not_in_list", column=one.label, value=word, choices=column.choices)
    open_words, question = OPEN_CHOICES.get(column.name, ((), ""))
    near = get_close_matches(word, column.choices, n=1)
    meant = near[0] if near else "..."
    if word.casefold() in open_words:
        fix, meant = f"{question} {fix}", "..."
    elif near:
        fix = f"Did you mean {meant}? {fix}"
    if one.reading is None:
        return message, fix
    line = f"{json.dumps(word, ensure_ascii=False)} = {json.dumps(meant)}"
    return message, f"{fix} Or say what it means: in columns.toml, under [words.{column.name}], write: {line}"


def out_of_contract(one: TextColumn, rule: str, typed: object, table: str) -> Sentences:
    """What to say of a value that is of its kind but breaks the contract."""
    column = one.column
    if rule == "empty_required":
        return reason(rule, column=one.label, row=TABLES[table].row)
    if rule == "not_in_list":
        return _no_choice(one, str(typed))
    limit = {"not_positive": column.above, "too_low": column.low, "too_high": column.high}[rule]
    converted = one.reading is not None and bool(one.reading.conversion)
    name = column.name if converted else one.label
    message, fix = reason(rule, column=name, value=typed, unit=unit_of(column), limit=limit)
    if column.unit == "C" and rule == "too_high" and one.reading is not None and not converted:
        fix = f"Check the value. If the whole column is Fahrenheit: {remedy(one.label, column.name, '°F')}"
    return message, fix
