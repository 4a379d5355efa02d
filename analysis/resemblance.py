"""New ids that look like a slip of a known one."""

from __future__ import annotations

import difflib
import json
from collections.abc import Mapping

import polars as pl

from schemas.contracts import TABLES
from schemas.reports import FLAG_COLUMNS
from schemas.rules import RULES
from schemas.stubs import LACKS, is_stub

RESEMBLANCE = 0.85
"""Ids this alike (difflib ratio, case ignored, same digits) are likely one; chosen by eye, no source."""


def resembles(name: str, known: list[str]) -> str:
    """The known id that this new one is likely a slip of, or an empty string.

    >>> resembles("kenya-aa", ["Kenya-AA", "brasil"])
    'Kenya-AA'
    >>> resembles("lot-12", ["lot-11"])
    ''
    """
    digits = "".join(filter(str.isdigit, name))
    alike = {other.casefold(): other for other in known if "".join(filter(str.isdigit, other)) == digits}
    close = difflib.get_close_matches(name.casefold(), alike, n=1, cutoff=RESEMBLANCE)
    return alike[close[0]] if close else ""


def near_miss_flags(brews: pl.DataFrame, parents: Mapping[str, pl.DataFrame]) -> pl.DataFrame:
    """One flag (FLAG_COLUMNS) per id that only brews know and that resembles another: at the first brew naming it.

    `parents` maps a table name to its current rows; ids still standing as stubs are looked at.
    """
    rule, found = RULES["near_miss"], []
    for column, table in TABLES["brews"].parents:
        key = TABLES[table].key[0]
        rows = parents[table].with_columns(stub=is_stub(table)) if table in LACKS else parents[table].head(0)
        others = rows.filter(~pl.col("stub"))[key].to_list() if rows.height else []
        for name in rows.filter("stub")[key].sort().to_list() if rows.height else []:
            suggest = resembles(name, others)
            naming = brews.filter(pl.col(column) == name).sort("source_file", "line")
            if not suggest or naming.is_empty():
                continue
            first = naming.row(0, named=True)
            found.append(
                {
                    **{place: first[place] for place in ("source_file", "sheet", "line", "brew_id")},
                    "table": "brews",
                    "column": column,
                    "value": name,
                    "rule": rule.name,
                    "message": f"{rule.message.format(column=column, value=name, suggest=suggest)} "
                    f"{naming.height} {'brew names' if naming.height == 1 else 'brews name'} it.",
                    "fix": rule.fix,
                    "row_json": json.dumps({n: first[n] for n in TABLES["brews"].column_names}, default=str),
                }
            )
    kinds = {name: pl.Int64() if name == "line" else pl.String() for name in FLAG_COLUMNS}
    return pl.DataFrame(found, schema=kinds)
