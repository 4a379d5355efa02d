"""Which table a sheet is: by declaration, by its name, else by its columns where that is unambiguous."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from difflib import get_close_matches
from pathlib import PurePath

from pipeline.parse.found import Match
from pipeline.parse.mapping import Section
from pipeline.parse.match import match_headers
from pipeline.parse.model import CannotInterpret
from schemas.contracts import TABLES
from schemas.plain import plain
from schemas.problem import ProblemError

NOTHING_DECLARED = Section()
SINGULAR = {name: name.removesuffix("s") for name in TABLES}
SEES_BREWING = {"beverage_g", "water_g", "tds_pct", "brew_time_s", "grind_setting", "water_temp_c", "method"}
"""Columns that, with a dose, make a sheet a log of brews."""

MatchOf = Callable[[str], Match]


def recognised_headers(cells: Sequence[str], section: Section = NOTHING_DECLARED) -> int:
    """How many of these cells name columns of one table: a score for finding the header row.

    A single one counts only where it is alone and all that a table needs, such as `coffee_id`.
    """
    if len(cells) == 1:
        return int(any(table.required == (plain(cells[0]).replace(" ", "_"),) for table in TABLES.values()))
    best = max(len(match_headers(cells, table, section, {}).found) for table in TABLES)
    return best if best >= 2 else 0


def choose_table(
    file: str, sheet: str, header: Sequence[str], match_of: MatchOf, *, declared: str | None, given: str | None
) -> Match | CannotInterpret:
    """The headers matched against the table the sheet is.

    `declared` is what columns.toml says of it. `given` was said of all files of a call, so it stands only for a sheet
    that can be that table, or whose own name and columns tell nothing.
    """
    if declared is not None:
        return match_of(known_table(declared))
    asked = match_of(known_table(given)) if given is not None else None
    if asked is not None and not lacking(asked):
        return asked
    told = _from_the_sheet(file, sheet, header, match_of)
    if asked is not None and asked.found and isinstance(told, CannotInterpret):
        return asked
    return told


def _from_the_sheet(file: str, sheet: str, header: Sequence[str], match_of: MatchOf) -> Match | CannotInterpret:
    matches = {name: match_of(name) for name in TABLES}
    for name, from_sheet in ((sheet, True), (PurePath(file).name, not sheet)):
        if (chosen := _by_name(name, matches, sure=from_sheet)) is not None:
            return matches[chosen]
    fitting = _by_columns(header, matches)
    if len(fitting) == 1:
        return matches[fitting[0]]
    if fitting:
        return CannotInterpret(
            f"It could be {' or '.join(fitting)}. Say which: --table {fitting[0]}, a file name with that word, or "
            f'table = "{fitting[0]}" under [files."{PurePath(file).name}"] in columns.toml.'
        )
    return CannotInterpret(
        f"Its columns ({', '.join(header)}) fit no table. If it is data, say what its columns are in columns.toml, and "
        f"name the table by --table or in the file's name: {', '.join(TABLES)}.",
        refuse=not sheet,
    )


def known_table(name: str) -> str:
    """The table's name, or a problem that names the nearest."""
    if name in TABLES:
        return name
    near = get_close_matches(name, TABLES, n=1)
    hint = f"did you mean {near[0]}?" if near else f"the tables are {', '.join(TABLES)}."
    raise ProblemError(f"There is no table {name!r}; {hint}")


def lacking(match: Match) -> tuple[str, ...]:
    """Required columns without a source; a log that carries masses may lack its brew_id."""
    table = TABLES[match.table]
    optional = {"brew_id"} if match.table == "brews" else set()
    missing = [name for name in table.required if name not in match.columns and name not in optional]
    if table.one_of and not any(set(group) <= match.columns for group in table.one_of):
        missing.append(" or ".join(" with ".join(group) for group in table.one_of))
    return tuple(missing)


def _by_name(name: str, matches: dict[str, Match], *, sure: bool) -> str | None:
    """Table named in a file or sheet name.

    A table's own name decides (in the name of a workbook only where the columns fit too); the singular, as in
    'coffee log', only where no other table knows more of the columns.
    """
    words: list[str] = re.findall(r"[a-z]+", name.casefold())
    plural = [word for word in words if word in TABLES]
    if plural and (sure or not lacking(matches[plural[-1]])):
        return plural[-1]
    most = max(len(match.found) for match in matches.values())
    singular = [table for word in words for table in TABLES if SINGULAR[table] == word]
    fitting = [t for t in singular if len(matches[t].found) == most and not lacking(matches[t])]
    return fitting[-1] if fitting else None


def _by_columns(header: Sequence[str], matches: dict[str, Match]) -> list[str]:
    """Tables whose needs the columns meet and that know all that any other such table knows; one if unambiguous."""
    brews = matches["brews"]
    if "dose_g" in brews.columns and len(SEES_BREWING & brews.columns) >= 1:
        return ["brews"]
    places = {
        name: {one.position for one in match.found}
        for name, match in matches.items()
        if not lacking(match) and name != "brews"
    }
    worth = {name: seen for name, seen in places.items() if len(seen) >= 2 and len(seen) * 2 >= len(header)}
    best = [name for name, seen in worth.items() if all(seen >= other for other in worth.values())]
    strict = [name for name in best if not any(worth[name] == seen for other, seen in worth.items() if other != name)]
    return strict or sorted(worth, key=lambda name: -len(worth[name]))
