"""From the text of `columns.toml` to a Mapping, with a plain sentence for everything that is not understood."""

from __future__ import annotations

import re
from collections.abc import Iterable
from difflib import get_close_matches
from typing import Any, get_args

from pipeline.parse.found import TIME_OF_DAY
from pipeline.parse.mapping import ColumnRule, CombineRule, Mapping, Section
from pipeline.parse.model import DateOrder, DecimalMark
from pipeline.toml_file import parse_toml
from schemas.aliases import column_names, columns_called
from schemas.aliases_units import UNITS, conversion_of, unit_of
from schemas.columns import COLUMNS
from schemas.contracts import TABLES
from schemas.plain import plain
from schemas.problem import ProblemError

KEYS = (
    *("columns", "constants", "decimal_mark", "date_order", "missing", "ignore", "id_from", "words", "combine"),
    *("attributes",),
)
_NUMBERED_READING = re.compile(r"tds_pct_(\d{1,3})")
ALL_COLUMNS = sorted({name for table in TABLES for name in column_names(table)})
MANY, NEAREST = 16, 3
"""A list of up to so many names is shown whole, of a longer one only so many of the nearest."""


def parse_mapping(content: bytes, where: str) -> Mapping:
    """Mapping of the file `where`."""
    try:
        text = content.decode("utf-8-sig").replace("\r\n", "\n")
    except UnicodeDecodeError as error:
        raise ProblemError(f"{where} is not plain UTF-8 text. Save it again as UTF-8 and retry.") from error
    data = parse_toml(text, where)
    reader = _Reader(where)
    general = {key: value for key, value in data.items() if key not in ("files", "sheets")}
    return Mapping(
        general=reader.section(general, "", KEYS),
        files=reader.patterns(data, "files"),
        sheets=reader.patterns(data, "sheets"),
    )


class _Reader:
    """Checks and converts one file's tables; knows its name for messages."""

    def __init__(self, where: str) -> None:
        self.where = where

    def problem(self, text: str) -> ProblemError:
        return ProblemError(f"{self.where}: {text}")

    def known(self, name: object, allowed: Iterable[str], what: str, place: str) -> str:
        """The name when it is one of those allowed; else a problem with the nearest one."""
        names = list(allowed)
        if isinstance(name, str) and name in names:
            return name
        called = [column for column in columns_called(str(name)) if column in names]
        if near := called[:NEAREST] or get_close_matches(str(name), names, n=1):
            raise self.problem(f"{place}{name!r} is no {what} here; did you mean {' or '.join(near)}?")
        some = names if len(names) <= MANY else get_close_matches(str(name), names, n=NEAREST, cutoff=0)
        hint = f"use one of: {', '.join(names)}." if some == names else f"the nearest are {', '.join(some)}."
        raise self.problem(f"{place}{name!r} is no {what} here; {hint}")

    def table(self, value: object, place: str) -> dict[str, Any]:
        if not isinstance(value, dict):
            raise self.problem(f"{place} should be a table of entries, written under [{place}].")
        return value

    def texts(self, value: object, place: str) -> tuple[str, ...]:
        if not isinstance(value, list) or not all(isinstance(item, str) for item in value):
            raise self.problem(f'{place} should be a list of texts, such as {place} = ["one", "two"].')
        return tuple(value)

    def patterns(self, data: dict[str, Any], kind: str) -> tuple[tuple[str, Section], ...]:
        found = self.table(data.get(kind, {}), kind)
        return tuple(
            (pattern, self.section(self.table(body, f'{kind}."{pattern}"'), f'[{kind}."{pattern}"] ', (*KEYS, "table")))
            for pattern, body in found.items()
        )

    def section(self, body: dict[str, Any], place: str, keys: tuple[str, ...]) -> Section:
        for key in body:
            if key == "table" and "table" not in keys:
                raise self.problem('table belongs to some files or sheets: write it under [files."name*.csv"].')
            self.known(key, keys, "setting", place)
        return Section(
            table=self.known(body["table"], TABLES, "table", place) if "table" in body else None,
            columns={h: self.column_rule(h, v) for h, v in self.table(body.get("columns", {}), "columns").items()},
            ignore=self.texts(body.get("ignore", []), "ignore"),
            constants=self.constants(self.table(body.get("constants", {}), "constants")),
            decimal_mark=self._one_of(body, "decimal_mark", get_args(DecimalMark), place),
            date_order=self._one_of(body, "date_order", get_args(DateOrder), place),
            missing=self.texts(body.get("missing", []), "missing"),
            id_from=self._id_from(body),
            attributes=self._attributes(body.get("attributes", [])),
            combine={k: self._combine(k, v) for k, v in self.table(body.get("combine", {}), "combine").items()},
            words={k: self._words(k, v) for k, v in self.table(body.get("words", {}), "words").items()},
        )

    def _one_of(self, body: dict[str, Any], key: str, allowed: tuple[str, ...], place: str) -> Any:
        return self.known(body[key], allowed, key, place) if key in body else None

    def column_rule(self, header: str, value: object) -> ColumnRule:
        """The rule of one own header: a column's name, or a table of column and unit."""
        place = f"[columns] {header!r} = "
        if isinstance(value, str):
            value = {"column": value}
        body = self.table(value, "columns")
        for key in body:
            self.known(key, ("column", "unit"), "setting", place)
        name, number = body.get("column", ""), None
        if isinstance(name, str) and (numbered := _NUMBERED_READING.fullmatch(name)):
            name, number = "tds_pct", int(numbered.group(1))
        if isinstance(name, str) and plain(name) == plain(TIME_OF_DAY):
            name = TIME_OF_DAY
        name = self.known(name, (*ALL_COLUMNS, TIME_OF_DAY), "column", place)
        unit = str(body.get("unit", ""))
        if unit and name == TIME_OF_DAY:
            raise self.problem(f"{place}a time of day has no unit; leave unit out.")
        if unit and conversion_of(COLUMNS[name], unit) is None:
            units = [word for words in UNITS.get(unit_of(COLUMNS[name]), {}).values() for word in words]
            raise self.problem(f"{place}unit {unit!r} does not fit {name}; use one of: {', '.join(units) or 'none'}.")
        return ColumnRule(name, unit, number)

    def constants(self, body: dict[str, Any]) -> dict[str, str]:
        """Constants as text, each of a known column."""
        out = {}
        for name, value in body.items():
            self.known(name, ALL_COLUMNS, "column", "[constants] ")
            if isinstance(value, (dict, list)):
                raise self.problem(f"[constants] {name} should be one value.")
            out[name] = str(value).lower() if isinstance(value, bool) else str(value)
        return out

    def _id_from(self, body: dict[str, Any]) -> tuple[str, ...]:
        names = self.texts(body.get("id_from", []), "id_from")
        allowed = [name for name in TABLES["brews"].column_names if name != "brew_id"]
        return tuple(self.known(name, allowed, "column of brews", "id_from: ") for name in names)

    def _attributes(self, value: object) -> dict[str, str]:
        if isinstance(value, dict):
            return {header: str(attribute) for header, attribute in value.items()}
        return {header: header for header in self.texts(value, "attributes")}

    def _combine(self, name: str, value: object) -> CombineRule:
        ids = [column for column in ALL_COLUMNS if COLUMNS[column].kind == "text"]
        self.known(name, ids, "id", "[combine] ")
        body = self.table(value, f"combine.{name}")
        for key in body:
            self.known(key, ("from", "join"), "setting", f"[combine] {name}: ")
        return CombineRule(self.texts(body.get("from", []), "from"), str(body.get("join", "-")))

    def _words(self, name: str, value: object) -> dict[str, str]:
        choices = sorted({c for t in TABLES.values() if name in t.columns for c in t.columns[name].choices})
        self.known(name, [c for c in ALL_COLUMNS if COLUMNS[c].kind == "choice"], "column with a list", "[words] ")
        body = self.table(value, f"words.{name}")
        return {
            own: self.known(word, choices, "word of the list", f"[words.{name}] {own!r} = ")
            for own, word in body.items()
        }
