"""Parents that were made up because a row named them: what they still lack, and how to tell one."""

from __future__ import annotations

import polars as pl

from schemas.contracts import TABLES

LACKS = {
    "coffees": ("name", "roast_level", "roasted_on"),
    "lots": ("roasted_on",),
    "grinders": ("finer_is",),
    "instruments": ("kind", "resolution", "standard_uncertainty"),
}
"""Tables that may hold stubs, and what analyses miss while a parent is only a stub."""


def is_stub(table: str) -> pl.Expr:
    """Whether a row of a parent table holds nothing but its id (a lot: its id and coffee)."""
    bare = [name for name in TABLES[table].column_names if name not in TABLES[table].key and name != "coffee_id"]
    return pl.all_horizontal(pl.col(bare).is_null())
