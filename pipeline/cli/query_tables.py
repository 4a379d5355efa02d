"""The tables a user's own SQL may read: all input tables, and the derived ones that it names."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from pipeline.cli.opened import Opened
from pipeline.database import connect
from pipeline.facts import brew_facts, brew_flags
from pipeline.store.read import read_set_aside

if TYPE_CHECKING:
    import duckdb
    import polars as pl

DERIVED: dict[str, Callable[[Opened], pl.DataFrame]] = {
    "brew_facts": lambda lab: brew_facts(lab.store, lab.manifest, lab.settings),
    "flags": lambda lab: brew_flags(lab.store, lab.manifest, lab.settings),
    "set_aside": lambda lab: read_set_aside(lab.store, lab.manifest),
}


def connect_for(lab: Opened, sql: str, *, memory_gb: float) -> duckdb.DuckDBPyConnection:
    """A connection on which this statement finds its tables; derived ones are worked out only where it names them.

    The statement may use `memory_gb` of memory.
    """
    said = sql.casefold()
    wanted = {name: make(lab) for name, make in DERIVED.items() if name in said or "show" in said}
    return connect(lab.store, lab.manifest, extra=wanted, memory_limit=f"{memory_gb:.3f}GB")
