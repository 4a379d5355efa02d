"""Rows that come back from an export of the set-aside list, corrected in the `value` cell or in `row_json`."""

from __future__ import annotations

import json
from collections import Counter
from dataclasses import dataclass, field, replace

import polars as pl

from pipeline.exports import unescape_cell
from pipeline.ingest.unit import Part, Unit
from pipeline.parse.model import ColumnReading, Interpretation
from pipeline.parse.wire import from_json
from pipeline.sources.model import RaggedRow, RawSheet, Source
from schemas.contracts import TABLES
from schemas.reports import SET_ASIDE_COLUMNS

Place = tuple[str, str, int, str]
"""source_file, sheet, line, table."""


def is_export(sheet: RawSheet) -> bool:
    """Whether a sheet is an export of the set-aside list."""
    return set(SET_ASIDE_COLUMNS) <= set(sheet.header)


@dataclass
class _Row:
    """One row under repair: the entry it came from, its cells as they now stand, whether row_json was edited."""

    entry: dict[str, str]
    cells: dict[str, str]
    edited: bool = False


@dataclass
class Mended:
    """The units made of one export; `lines_of` counts its lines per row, `orphans` its lines of no known entry."""

    units: list[Unit] = field(default_factory=list)
    lines_of: Counter[Place] = field(default_factory=Counter)
    orphans: list[int] = field(default_factory=list)


def mended_units(source: Source, sheet: RawSheet, entries: pl.DataFrame) -> Mended:
    """Rebuild the corrected rows; `entries` are those on the list, then those that ever left it."""
    out = Mended()
    by_place: dict[Place, list[dict[str, str]]] = {}
    for entry in entries.iter_rows(named=True):
        by_place.setdefault(_place(entry), []).append(entry)
    rows: dict[Place, _Row] = {}
    for number, line in _lines(sheet):
        place = _place(line)
        found = _entry_of(line, by_place.get(place, []))
        if found is None:
            out.orphans.append(number)
            continue
        out.lines_of[place] += 1
        row = rows.setdefault(place, _Row(found, json.loads(found["row_json"])))
        _apply(line, found, row)
    groups: dict[tuple[str, str, str, str], list[Place]] = {}
    for place, row in rows.items():
        e = row.entry
        groups.setdefault((e["table"], e["source_file"], e["how_json"], e["sha256"]), []).append(place)
    for (table, source_file, how_json, sha256), places in groups.items():
        how = from_json(json.loads(how_json))
        parts = _parts({place: rows[place] for place in places}, how, table)
        out.units.append(Unit(table, source.file, source_file, sha256, parts, mended=True))
    return out


def _lines(sheet: RawSheet) -> list[tuple[int, dict[str, str]]]:
    names = {f"c{place}": name for place, name in enumerate(sheet.header)}
    """Lines of the export; a text file's cells lose the apostrophe that kept them from being formulas."""
    plain = str if sheet.typed else unescape_cell
    lines = []
    for batch in sheet.batches():
        for row in batch.select("line", *names).iter_rows():
            cells = dict(zip(sheet.header, (plain(text or "") for text in row[1:]), strict=True))
            lines.append((row[0], {name: cells[name] for name in SET_ASIDE_COLUMNS}))
    return lines


def _place(row: dict[str, str]) -> Place:
    line = str(row["line"]).removesuffix(".0")
    return (row["source_file"] or "", row["sheet"] or "", int(line) if line.isdigit() else -1, row["table"] or "")


def _entry_of(line: dict[str, str], candidates: list[dict[str, str]]) -> dict[str, str] | None:
    """The list entry a line of the export stands for: same rule and column first, else any of that row."""
    same = [e for e in candidates if e["rule"] == line["rule"] and (e["column"] or "") == line["column"]]
    exact = [e for e in same or candidates if e["row_json"] == line["row_json"]]
    chosen = exact or same or candidates
    return chosen[0] if chosen else None


def _apply(line: dict[str, str], entry: dict[str, str], row: _Row) -> None:
    """Carry a changed `row_json`, then a changed `value`, over to the row's cells."""
    if line["row_json"] != entry["row_json"]:
        before, now = json.loads(entry["row_json"]), _object(line["row_json"])
        row.cells.update({name: str(text) for name, text in now.items() if before.get(name) != text})
        row.edited = bool(now)
    if line["value"] != (entry["value"] or ""):
        header = entry["own_header"] or entry["column"]
        if header:
            row.cells[header] = line["value"]


def _object(text: str) -> dict[str, str]:
    try:
        found = json.loads(text)
    except ValueError:
        return {}
    return found if isinstance(found, dict) else {}


def _parts(rows: dict[Place, _Row], how: Interpretation, table: str) -> tuple[Part, ...]:
    named = {name for row in rows.values() for name in row.cells} - set(how.header)
    extra = [name for name in TABLES[table].column_names if name in named]
    readings = [ColumnReading(len(how.header) + place, name, name) for place, name in enumerate(extra)]
    how = replace(how, header=(*how.header, *extra), columns=(*how.columns, *readings))
    sheets = dict.fromkeys(place[1] for place in rows)
    return tuple(
        Part(_sheet(name, how.header, {p[2]: row for p, row in rows.items() if p[1] == name}), how) for name in sheets
    )


def _sheet(name: str, header: tuple[str, ...], rows: dict[int, _Row]) -> RawSheet:
    """A ragged row that nobody edited stays ragged."""
    ragged = {line: row for line, row in rows.items() if row.entry["rule"] == "ragged_row" and not row.edited}
    whole = {line: row for line, row in rows.items() if line not in ragged}
    columns = {f"c{i}": [row.cells.get(own) or None for row in whole.values()] for i, own in enumerate(header)}
    schema = {"line": pl.Int64(), **dict.fromkeys(columns, pl.String())}
    frame = pl.DataFrame({"line": list(whole), **columns}, schema=schema)
    return RawSheet(
        file="",
        sheet=name,
        header=header,
        batches=lambda: iter((frame,)),
        rows_read=len(rows),
        blank=0,
        ragged=tuple(RaggedRow(line, tuple(row.cells.values())) for line, row in ragged.items()),
    )
