"""New ids that look like a slip of a known one."""

from __future__ import annotations

import difflib
import re
from collections.abc import Mapping
from functools import lru_cache

import polars as pl

from analysis.facts.flags.rows import row_json
from analysis.words import count
from schemas.contracts import TABLES
from schemas.lab import LabSettings
from schemas.reports import FLAG_COLUMNS
from schemas.rules import RULES
from schemas.stubs import is_stub

RESEMBLANCE = 0.85
"""Ids this alike (difflib ratio; case and leading zeros ignored, same digits) are likely one; by eye, no source."""


def resembles(name: str, known: list[str]) -> str:
    """The known id that this new one is likely a slip of, or an empty string.

    >>> resembles("kenya-aa", ["Kenya-AA", "brasil"])
    'Kenya-AA'
    >>> resembles("lot-12", ["lot-11"]), resembles("7", ["007"]), resembles("c-10", ["c-1"])
    ('', '007', '')
    """
    for form in (_as_written, _without_leading_zeros):
        own, digits = form(name)
        forms = ((*form(other), other) for other in known)
        alike = {text: other for text, same, other in forms if same == digits}
        if close := difflib.get_close_matches(own, alike, n=1, cutoff=RESEMBLANCE):
            return alike[close[0]]
    return ""


@lru_cache(maxsize=100_000)
def _as_written(name: str) -> tuple[str, str]:
    """An id without case, and its digits."""
    return name.casefold(), "".join(re.findall(r"\d", name))


@lru_cache(maxsize=100_000)
def _without_leading_zeros(name: str) -> tuple[str, str]:
    """An id without case or zeros that lead a number, and its numbers."""
    text = re.sub(r"\d+", lambda number: number[0].lstrip("0") or "0", name.casefold())
    return text, " ".join(re.findall(r"\d+", text))


def near_miss_flags(
    rows: Mapping[str, pl.DataFrame], parents: Mapping[str, pl.DataFrame], *, settings: LabSettings
) -> pl.DataFrame:
    """One flag (FLAG_COLUMNS) per id that stands as a stub and resembles another: at the first row naming it.

    `rows` maps brews and readings to their stored rows, `parents` the tables that may hold stubs to theirs.
    """
    found = []
    for table, naming in rows.items():
        for column, parent in TABLES[table].parents:
            if parent not in parents:
                continue
            for name, likely in _likely_slips(naming[column], parents[parent], parent).items():
                named = naming.filter(pl.col(column) == name).sort("source_file", "line", nulls_last=True)
                found.append(_flag(named, table, column, likely, settings))
    kinds = {name: pl.Int64() if name == "line" else pl.String() for name in FLAG_COLUMNS}
    return pl.DataFrame(found, schema=kinds)


def _likely_slips(named: pl.Series, parent_rows: pl.DataFrame, parent: str) -> dict[str, str]:
    """Stub ids among `named`, each with the id it is likely a slip of: a known one, or a stub that more rows name."""
    key = TABLES[parent].key[0]
    marked = parent_rows.select(key, stub=is_stub(parent))
    known = marked.filter(~pl.col("stub"))[key].to_list()
    counts = named.drop_nulls().value_counts(name="rows").rows_by_key(named.name, unique=True)
    stubs = {name: counts[name] for name in marked.filter("stub")[key].sort() if name in counts}
    likely = {
        name: resembles(name, known + [other for other, more in stubs.items() if more > often])
        for name, often in stubs.items()
    }
    return {name: other for name, other in likely.items() if other}


def _flag(
    named: pl.DataFrame, table: str, column: str, likely: str, settings: LabSettings
) -> dict[str, str | int | None]:
    rule, first = RULES["near_miss"], named.row(0, named=True)
    noun = table.removesuffix("s")
    how_often = count(named.height, f"{noun} names it", f"{noun}s name it")
    return {
        **{place: first[place] for place in ("source_file", "sheet", "line", "brew_id")},
        "table": table,
        "column": column,
        "value": first[column],
        "rule": rule.name,
        "message": f"{rule.message.format(column=column, value=first[column], suggest=likely)} {how_often}.",
        "fix": rule.fix,
        "row_json": row_json(named.head(1), table, settings)[0],
    }
