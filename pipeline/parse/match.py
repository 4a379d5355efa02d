"""All headers of a sheet against one table: which column each is, which are left over, what to ask."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TypeVar

from pipeline.parse.found import TIME_OF_DAY, Found, Match
from pipeline.parse.mapping import Section
from pipeline.parse.model import Combined
from pipeline.parse.one_header import Unread, columns_line, declared_header, one_header
from schemas.aliases import INLINE_READING_COLUMNS, column_names
from schemas.contracts import TABLES
from schemas.plain import plain

T = TypeVar("T")
_RANK = {"declared": 0, "contract": 1, "alias": 2}


def match_headers(header: Sequence[str], table: str, section: Section, constants: dict[str, str]) -> Match:
    """Headers of one sheet as columns of `table`; `constants` are the lab's, under those of the section."""
    found: list[Found] = []
    unknown: list[str] = []
    notes: list[str] = []
    attributes = section.attributes if table == "tastings" else {}
    ignored = dict.fromkeys(section.ignore, True)
    parts = {part for name, rule in section.combine.items() if name in column_names(table) for part in rule.headers}
    for position, own in enumerate(header):
        if _lookup(own, ignored):
            continue
        result = _one(position, own, table, section, attributes)
        if isinstance(result, Found):
            found.append(result)
        elif own not in parts:
            unknown.append(own)
            notes += [result.note] if result.note else []
    combined = _combined(header, table, section, notes)
    made = {one.column for one in combined}
    unknown += [one.header for one in found if one.column in made and one.header not in parts]
    found = [one for one in found if one.column not in made]
    kept = _without_doubles(_numbered_once(found, unknown, notes), unknown, notes)
    kept = _readings_belong_together(kept, table, unknown)
    unknown.sort(key=list(header).index)
    match = Match(table, tuple(kept), tuple(unknown), tuple(notes), combined)
    return replace(match, constants=_constants(match, section, constants))


def _one(position: int, own: str, table: str, section: Section, attributes: dict[str, str]) -> Found | Unread:
    if (attribute := _lookup(own, attributes)) is not None:
        return Found(position, own, attribute, "declared", role="score")
    rule = _lookup(own, section.columns)
    if rule is None:
        return one_header(position, own, table)
    if rule.column == TIME_OF_DAY:
        return Found(position, own, TIME_OF_DAY, "declared", role="clock") if table == "brews" else Unread()
    if rule.column not in column_names(table):
        return Unread()
    return declared_header(position, own, rule, table)


def _lookup(own: str, declared: dict[str, T]) -> T | None:
    """What is declared for an own header: as written first, then regardless of case and punctuation."""
    if own in declared or not declared:
        return declared.get(own)
    words = plain(own)
    return next((value for name, value in declared.items() if words and plain(name) == words), None)


def _numbered_once(found: list[Found], unknown: list[str], notes: list[str]) -> list[Found]:
    """A plain strength column beside a first numbered one may be their mean: it is left out and asked about."""
    readings = [one for one in found if one.role == "reading"]
    plain_ones = [one for one in readings if one.number is None and one.how != "declared"]
    if not any(one.number == 1 for one in readings) or not plain_ones:
        return found
    for one in plain_ones:
        unknown.append(one.header)
        notes.append(
            f"{one.header!r} was not read: beside numbered readings it may be their mean. If it is one more reading, "
            f"give it a number too."
        )
    return [one for one in found if one not in plain_ones]


def _without_doubles(found: list[Found], unknown: list[str], notes: list[str]) -> list[Found]:
    """One header per column: a declared one wins, then the contract's own name; two alike are both asked about."""
    groups: dict[tuple[str, int | None], list[Found]] = {}
    for one in found:
        groups.setdefault((one.column, (one.number or 1) if one.role == "reading" else None), []).append(one)
    out = []
    for (column, _), group in groups.items():
        best = min(_RANK[one.how] for one in group)
        winners = [one for one in group if _RANK[one.how] == best]
        settled = [one for one in winners if not one.open_time] or winners
        if len(settled) == 1:
            out.append(settled[0])
            lost = [one.header for one in group if one is not settled[0] and not one.open_time]
            unknown += lost
            notes += [f"{own!r} was not read: {column} is {settled[0].header!r}." for own in lost]
            out += [one for one in group if one is not settled[0] and one.open_time]
            continue
        names = " and ".join(repr(one.header) for one in winners)
        unknown += [one.header for one in group]
        notes.append(
            f"{names} could each be {column}, so none was read; say which under [columns] in columns.toml: "
            f"{columns_line(winners[0].header, column)}"
        )
    return sorted(out, key=lambda one: one.position)


def _readings_belong_together(found: list[Found], table: str, unknown: list[str]) -> list[Found]:
    """In a log without strength, columns about the reading have nothing to belong to."""
    if table != "brews" or any(one.role == "reading" for one in found):
        return found
    lost = [one for one in found if one.column in INLINE_READING_COLUMNS]
    unknown += [one.header for one in lost]
    return [one for one in found if one not in lost]


def _combined(header: Sequence[str], table: str, section: Section, notes: list[str]) -> tuple[Combined, ...]:
    out = []
    for column, rule in section.combine.items():
        if column not in column_names(table):
            continue
        places = {name: position for position, name in enumerate(header)}
        missing = [name for name in rule.headers if name not in places]
        if len(missing) == len(rule.headers):
            continue
        if missing:
            notes.append(
                f"{column} was not made from {', '.join(rule.headers)}, as columns.toml says, because there is no "
                f"column {', '.join(missing)}"
            )
            continue
        out.append(Combined(column, tuple(places[name] for name in rule.headers), rule.join))
    return tuple(out)


def _constants(match: Match, section: Section, lab: dict[str, str]) -> dict[str, str]:
    """Constants for columns the sheet lacks: anything declared for this sheet, else what brews or the table needs."""
    table = TABLES[match.table]
    allowed = set(column_names(match.table))
    if match.table == "brews" and not any(one.role == "reading" for one in match.found):
        allowed -= set(INLINE_READING_COLUMNS)
    wide = allowed if match.table == "brews" else set(table.required)
    chosen = {name: value for name, value in (lab | section.constants).items() if name in wide & allowed}
    chosen |= {name: value for name, value in section.own_constants.items() if name in allowed}
    if any(one.brix for one in match.found) and "reading_scale" in allowed:
        chosen["reading_scale"] = "brix"
    return {name: value for name, value in chosen.items() if name not in match.columns}
