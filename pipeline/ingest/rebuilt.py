"""Rows of the set-aside list put together again, each to be read as its own sheet was."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from typing import Any, NamedTuple

import polars as pl

from pipeline.ingest.unit import Part, Unit
from pipeline.parse.model import ColumnReading, Interpretation
from pipeline.parse.wire import from_json
from pipeline.sources.model import RaggedRow, RawSheet
from schemas.contracts import TABLES

RANK = {name: number for number, name in enumerate(TABLES)}


class Place(NamedTuple):
    """Where a row stands: two files of one name differ in their bytes."""

    source_file: str
    sheet: str
    line: int
    table: str
    sha256: str


@dataclass
class Row:
    """One row of the list: an entry of it, and its cells as they now stand; `whole` is a ragged row that was mended."""

    entry: Mapping[str, Any]
    cells: dict[str, str] = field(default_factory=dict)
    whole: bool = False


def place_of(entry: Mapping[str, Any]) -> Place:
    """The place of a list entry."""
    return Place(*(entry[name] for name in Place._fields))


def row_of(entry: Mapping[str, Any]) -> Row:
    """The row of a list entry, as it stood."""
    return Row(entry, json.loads(entry["row_json"]))


def units_of(rows: Mapping[Place, Row], *, file: str | None = None) -> list[Unit]:
    """Rows as units, one for each file and way of reading it, parents before children.

    `file` is what to call them all; without it each goes by its own file's name.
    """
    groups: dict[tuple[str, str, str, str], dict[Place, Row]] = {}
    for place, row in rows.items():
        group = (place.table, place.source_file, row.entry["how_json"], place.sha256)
        groups.setdefault(group, {})[place] = row
    units = []
    for (table, source_file, how_json, sha256), found in groups.items():
        parts = _parts(found, from_json(json.loads(how_json)), table)
        units.append(Unit(table, file or source_file, source_file, sha256, parts, mended=True))
    return sorted(units, key=lambda unit: RANK[unit.table])


def _parts(rows: Mapping[Place, Row], how: Interpretation, table: str) -> tuple[Part, ...]:
    """The sheets of these rows; a column of the contract that only the mended cells name joins the header."""
    named = {name for row in rows.values() for name in row.cells} - set(how.header)
    extra = [name for name in TABLES[table].column_names if name in named]
    readings = [ColumnReading(len(how.header) + place, name, name) for place, name in enumerate(extra)]
    how = replace(how, header=(*how.header, *extra), columns=(*how.columns, *readings))
    sheets = dict.fromkeys(place.sheet for place in rows)
    return tuple(
        Part(_sheet(name, how.header, {p.line: row for p, row in rows.items() if p.sheet == name}), how)
        for name in sheets
    )


def _sheet(name: str, header: tuple[str, ...], rows: Mapping[int, Row]) -> RawSheet:
    """A ragged row that nobody mended stays ragged."""
    ragged = {line: row for line, row in rows.items() if row.entry["rule"] == "ragged_row" and not row.whole}
    whole = {line: row for line, row in rows.items() if line not in ragged}
    frame = pl.DataFrame({"line": pl.Series(list(whole), dtype=pl.Int64), **_columns(header, whole.values())})
    return RawSheet(
        file="",
        sheet=name,
        header=header,
        batches=lambda: iter((frame,)),
        rows_read=len(rows),
        blank=0,
        ragged=tuple(RaggedRow(line, tuple(row.cells.values())) for line, row in ragged.items()),
    )


def _columns(header: tuple[str, ...], rows: Iterable[Row]) -> dict[str, pl.Series]:
    cells = [row.cells for row in rows]
    return {
        f"c{place}": pl.Series([one.get(own) or None for one in cells], dtype=pl.String)
        for place, own in enumerate(header)
    }
