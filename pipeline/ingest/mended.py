"""Rows that come back from an export of the set-aside list, corrected in the `value` cell or in `row_json`."""

from __future__ import annotations

import json
import re
from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from functools import lru_cache
from typing import Any

import polars as pl

from pipeline.exports import unescape_cell
from pipeline.ingest.rebuilt import Place, Row, place_of, row_of, units_of
from pipeline.ingest.unit import Unit
from pipeline.parse.model import Interpretation
from pipeline.parse.one_header import column_of
from pipeline.parse.wire import from_json
from pipeline.sources.model import RawSheet, Source
from schemas.reports import FLAG_COLUMNS, SET_ASIDE_COLUMNS

NEEDED = tuple(name for name in SET_ASIDE_COLUMNS if name not in ("message", "fix"))
_NUMBER = re.compile(r"-?\d+(\.\d+)?")


def is_export(sheet: RawSheet) -> bool:
    """Whether a sheet is an export of the set-aside list, maybe narrowed by its reader; flags are another list."""
    return set(NEEDED) <= set(sheet.header) and not set(FLAG_COLUMNS) <= set(sheet.header)


@dataclass
class Mended:
    """The units made of one export; `lines_of` counts its lines per row, `orphans` its lines of no known entry.

    `unreadable` are lines whose row_json is no JSON object, `torn` lines that correct a cell in another way than a line
    before them: neither changes anything.
    """

    units: list[Unit] = field(default_factory=list)
    lines_of: Counter[Place] = field(default_factory=Counter)
    orphans: list[int] = field(default_factory=list)
    unreadable: list[int] = field(default_factory=list)
    torn: list[int] = field(default_factory=list)

    def notes(self) -> Iterator[str]:
        """What was not taken as a correction, and why."""
        for lines, said in (
            (self.orphans, "belong to no row that was ever set aside here; leave source_file, sheet, line and table as "
                           "they were exported"),
            (self.unreadable, "hold no readable row_json, which was left as it stood; keep its braces, quotes and "
                              "commas"),
            (self.torn, "correct a cell in another way than a line before them; that cell was left as it stood"),
        ):  # fmt: skip
            if lines:
                yield f"{len(lines)} lines (first: line {lines[0]}) {said}"


def mended_units(source: Source, sheet: RawSheet, entries: pl.DataFrame) -> Mended:
    """Rebuild the corrected rows; `entries` are those on the list, then those that ever left it."""
    out = Mended()
    lines = list(_lines(sheet))
    candidates = _candidates(entries, {line["source_file"] for _, line in lines})
    rows: dict[Place, Row] = {}
    edits: dict[Place, dict[str, str]] = {}
    torn: set[tuple[Place, str]] = set()
    for number, line in lines:
        stands_for = _entry_of(line, candidates.get(_where(line), []))
        if stands_for is None:
            out.orphans.append(number)
            continue
        place = place_of(stands_for)
        row = rows.setdefault(place, row_of(stands_for))
        out.lines_of[place] += 1
        corrected = _edits(line, stands_for, typed=sheet.typed)
        if corrected is None:
            out.unreadable.append(number)
            continue
        row.whole |= line["row_json"] != stands_for["row_json"]
        mine = edits.setdefault(place, {})
        if other := {name for name, text in corrected.items() if mine.get(name, text) != text}:
            out.torn.append(number)
            torn |= {(place, name) for name in other}
        mine |= corrected
    for place, mine in edits.items():
        rows[place].cells |= {name: text for name, text in mine.items() if (place, name) not in torn}
    out.units = units_of(rows, file=source.file)
    return out


def _candidates(entries: pl.DataFrame, files: set[str]) -> dict[tuple[Any, ...], list[dict[str, Any]]]:
    """Entries of these files by where they stand."""
    found: dict[tuple[Any, ...], list[dict[str, Any]]] = {}
    for entry in entries.filter(pl.col("source_file").is_in(list(files))).iter_rows(named=True):
        found.setdefault(_where(entry), []).append(entry)
    return found


def _lines(sheet: RawSheet) -> Iterator[tuple[int, dict[str, str]]]:
    """Lines of the export; a text file's cells lose the apostrophe that kept them from being formulas."""
    plain = str if sheet.typed else unescape_cell
    places = [sheet.header.index(name) for name in NEEDED]
    for batch in sheet.batches():
        for number, *cells in batch.select("line", *(f"c{place}" for place in places)).iter_rows():
            yield number, dict(zip(NEEDED, (plain(text or "") for text in cells), strict=True))


def _where(row: Mapping[str, Any]) -> tuple[Any, ...]:
    line = str(row["line"]).removesuffix(".0")
    return row["source_file"], row["sheet"] or "", int(line) if line.isdigit() else -1, row["table"]


def _entry_of(line: dict[str, str], candidates: list[dict[str, Any]]) -> dict[str, Any] | None:
    """The list entry a line of the export stands for: the very row, else the one most like it, by rule and column."""
    text = line["row_json"]
    exact = [entry for entry in candidates if entry["row_json"] == text] or candidates
    same = [e for e in exact if e["rule"] == line["rule"] and (e["column"] or "") == line["column"]] or exact
    if len({entry["row_json"] for entry in same}) > 1 and (now := _object(text)):
        same = sorted(same, key=lambda entry: -_agreeing(json.loads(entry["row_json"]), now))
    return same[0] if same else None


def _agreeing(before: Mapping[str, str], now: Mapping[str, Any]) -> int:
    return sum(str(now.get(name)) == text for name, text in before.items())


def _edits(line: dict[str, str], entry: dict[str, Any], *, typed: bool) -> dict[str, str] | None:
    """Corrected cells by own header: those changed in `row_json`, then a changed `value`; None if it is no JSON."""
    how = _how(entry["how_json"])
    edits: dict[str, str] = {}
    if line["row_json"] != entry["row_json"]:
        now = _object(line["row_json"])
        if now is None:
            return None
        before = json.loads(entry["row_json"])
        texts = {name: _text(value, name, how) for name, value in now.items()}
        edits = {name: text for name, text in texts.items() if before.get(name, "") != text}
    header = entry["own_header"] or entry["column"]
    if header and not _same(line["value"], entry["value"] or ""):
        edits[header] = _in_own_mark(line["value"], header, how) if typed else line["value"]
    return edits


@lru_cache(maxsize=64)
def _how(how_json: str) -> Interpretation:
    return from_json(json.loads(how_json))


def _object(text: str) -> dict[str, Any] | None:
    try:
        found = json.loads(text)
    except ValueError:
        return None
    return found if isinstance(found, dict) else None


def _same(text: str, before: str) -> bool:
    """Whether a cell is unchanged; spreadsheets rewrite 007 as 7 and 18.50 as 18.5 when they save a list."""
    if text == before:
        return True
    return bool(_NUMBER.fullmatch(text) and _NUMBER.fullmatch(before)) and float(text) == float(before)


def _text(value: object, header: str, how: Interpretation) -> str:
    """A value of `row_json` as the cell would have been written."""
    if isinstance(value, str):
        return value
    if value is None:
        return ""
    return _in_own_mark(json.dumps(value), header, how)


def _in_own_mark(text: str, header: str, how: Interpretation) -> str:
    """A number that a program wrote with a point, in the decimal mark of the sheet that its row comes from."""
    if how.decimal_mark == "." or how.typed or not _NUMBER.fullmatch(text):
        return text
    columns = [column_of(how.table, one.contract_column) for one in how.columns if one.header == header]
    return text.replace(".", ",") if any(one.kind in ("number", "integer") for one in columns) else text
