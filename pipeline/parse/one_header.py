"""One own header to one column of one table, or the question to ask about it."""

from __future__ import annotations

import json
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import cast

from pipeline.parse.found import TIME_OF_DAY, Found, How
from pipeline.parse.header import HeaderReading, header_readings, whole
from pipeline.parse.mapping import ColumnRule
from pipeline.parse.model import Conversion, DateOrder, Role
from schemas.aliases import column_names, words_of
from schemas.aliases_unclear import CLOCK_WORDS, OPEN_TIME, UNCLEAR, WITH_UNIT, WORKED_OUT
from schemas.aliases_units import BRIX, UNITS, VOLUMES, conversion_of, unit_key, unit_of
from schemas.column import Column
from schemas.columns import COLUMNS
from schemas.contracts import TABLES
from schemas.plain import plain

DATE_ORDERS: dict[str, DateOrder] = {"d": "day_first", "m": "month_first", "y": "iso"}
_ZONES = ("utc", "gmt", "z")


@dataclass(frozen=True)
class Unread:
    """A header that is no column here; `note` says why or asks, where there is more to say than that."""

    note: str = ""


def columns_line(header: str, column: str, unit: str = "") -> str:
    """The line to put under [columns] in columns.toml.

    >>> columns_line("Time", "brew_time_s", "mm:ss")
    '"Time" = { column = "brew_time_s", unit = "mm:ss" }'
    """
    value = f'{{ column = "{column}", unit = "{unit}" }}' if unit else f'"{column}"'
    return f"{json.dumps(header, ensure_ascii=False)} = {value}"


def remedy(header: str, column: str, unit: str) -> str:
    """The header to write, or the line to add, that gives a column its unit."""
    readings = [reading for reading in header_readings(header) if reading.unit]
    is_unit = [one for one in readings if one.bracketed or conversion_of(COLUMNS[column], one.unit) is not None]
    name = is_unit[0].own if is_unit else header
    return (
        f"Head the column '{name} ({unit})', or add under [columns] in columns.toml: "
        f"{columns_line(header, column, unit)}"
    )


def column_of(table: str, name: str) -> Column:
    """A column as this table narrows it; inline readings as the readings table does."""
    columns = TABLES[table].columns
    return columns.get(name) or TABLES["readings"].columns.get(name) or COLUMNS[name]


def declared_header(position: int, header: str, rule: ColumnRule, table: str) -> Found | Unread:
    """A header that columns.toml names; its unit from there, else from the header itself."""
    column = column_of(table, rule.column)
    conversion = conversion_of(column, rule.unit) if rule.unit else None
    units = [reading.unit for reading in header_readings(header) if reading.unit]
    order = next((order for unit in units if (order := _order_of(unit, column))), None)
    if conversion is None:
        conversion = next((found for unit in units if (found := conversion_of(column, unit))), None)
    role: Role = "reading" if rule.column == "tds_pct" and table == "brews" else "value"
    return Found(
        position,
        header,
        rule.column,
        "declared",
        conversion=cast(Conversion, conversion or ""),
        role=role,
        number=rule.number or header_readings(header)[0].number if role == "reading" else None,
        unit_said=bool(rule.unit) or conversion is not None,
        date_order=order,
    )


def one_header(position: int, header: str, table: str) -> Found | Unread:
    """The column a header names by its own words, read from the most literal way on."""
    found = _one_header(header, table)
    return replace(found, position=position) if isinstance(found, Found) else found


@lru_cache(maxsize=16384)
def _one_header(header: str, table: str) -> Found | Unread:
    """The same at no position, remembered: the first rows of a file are tried against every table."""
    for reading in header_readings(header):
        found = _one_reading(header, reading, table)
        if found is not None:
            return found
    return Unread()


def _one_reading(header: str, reading: HeaderReading, table: str) -> Found | Unread | None:
    if table == "brews" and (special := _in_a_log(header, reading)) is not None:
        return special
    index = words_of(table)
    name = index.get(whole(reading))
    numbered = False
    if name is None and table == "brews" and index.get(reading.words) == "tds_pct":
        name, numbered = "tds_pct", True
    if name is None:
        return None
    how: How = "contract" if whole(reading) == plain(name) else "alias"
    found = Found(0, header, name, how, number=reading.number if numbered else None)
    if name == "tds_pct":
        brix = reading.words == "brix" or unit_key(reading.unit) in BRIX
        found = replace(found, role="reading" if table == "brews" else "value", brix=brix)
        if brix and "reading_scale" not in column_names(table):
            return Unread(f"{header!r} was not read: {table} holds dissolved solids, not Brix.")
        if brix:
            return replace(found, unit_said=True)
    return _with_unit(found, reading, column_of(table, name))


def _in_a_log(header: str, reading: HeaderReading) -> Found | Unread | None:
    """Words that are special in a log of brews: settled by a unit, worked out here, or unclear."""
    for unit, words in WITH_UNIT.items():
        if reading.unit and reading.words in words:
            for conversion, written in UNITS[unit].items():
                if unit_key(reading.unit) in written:
                    column = words[reading.words]
                    return Found(0, header, column, "alias", conversion=cast(Conversion, conversion), unit_said=True)
    name = whole(reading)
    if name in CLOCK_WORDS:
        return Found(0, header, TIME_OF_DAY, "alias", role="clock")
    if name == OPEN_TIME and not reading.unit:
        return Found(0, header, "brew_time_s", "alias", open_time=True)
    if name in WORKED_OUT:
        return Unread(f"{header!r} was not read: it is worked out here from the masses and the strength.")
    if name in UNCLEAR:
        meanings = UNCLEAR[name]
        headed = next((f"head it '{header} ({unit})', or " for unit, words in WITH_UNIT.items() if name in words), "")
        return Unread(
            f"{header!r} was not read: it could be {' or '.join(meanings)}. To read it, {headed}add under [columns] "
            f"in columns.toml: {columns_line(header, meanings[0])}"
        )
    return None


def _with_unit(found: Found, reading: HeaderReading, column: Column) -> Found | Unread | None:
    """The found column with the conversion the unit asks for; None when words that are no unit are left over."""
    if not reading.unit:
        return found
    conversion = conversion_of(column, reading.unit)
    if conversion is not None:
        return replace(found, conversion=cast(Conversion, conversion), unit_said=True)
    if not reading.bracketed:
        return None
    if column.kind in ("date", "time"):
        return _with_date_note(found, reading.unit, column)
    return found if not unit_of(column) else _not_the_unit(found.header, reading.unit, column)


def _with_date_note(found: Found, note: str, column: Column) -> Found | Unread:
    """What brackets after a date say: the order of day and month, a zone that nothing else would heed, or a remark."""
    if unit_key(note) in _ZONES:
        return Unread(f"{found.header!r} was not read: write each time with its offset, such as 2026-04-03T09:15Z.")
    return replace(found, date_order=_order_of(note, column))


def _not_the_unit(header: str, written: str, column: Column) -> Unread:
    kind = "a volume, not a mass" if unit_key(written) in VOLUMES else f"no unit of {column.name}"
    unit = unit_of(column)
    return Unread(
        f"{header!r} was not read: {written} is {kind}. If its numbers are in {unit}, add under [columns] "
        f"in columns.toml: {columns_line(header, column.name, unit)}"
    )


def _order_of(unit: str, column: Column) -> DateOrder | None:
    letters = plain(unit).replace(" ", "")
    if column.kind not in ("date", "time") or not {"d", "m", "y"} <= set(letters) <= set("dmyhs"):
        return None
    return DATE_ORDERS.get(letters[0])
