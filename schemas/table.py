"""A table contract: which columns, which are required, what makes a row unique."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

from schemas.column import Column
from schemas.columns import COLUMNS


@dataclass(frozen=True)
class Table:
    """The contract of one input table.

    `key` columns make a row unique (an empty cell counts as a value); `parents` are pairs of a column here and
    the table whose id it must name; `narrowed` holds columns whose range or choices differ in this table.
    """

    name: str
    row: str
    key: tuple[str, ...]
    column_names: tuple[str, ...]
    required: tuple[str, ...]
    parents: tuple[tuple[str, str], ...] = ()
    one_of: tuple[tuple[str, ...], ...] = ()
    narrowed: tuple[Column, ...] = ()

    @cached_property
    def columns(self) -> dict[str, Column]:
        """Column by name, in the contract's order, narrowed where this table narrows it."""
        narrowed = {column.name: column for column in self.narrowed}
        return {name: narrowed.get(name, COLUMNS[name]) for name in self.column_names}


def narrow(name: str, **changes: object) -> Column:
    """The dictionary's column with a tighter or wider range, other choices, or a sharper meaning."""
    return replace(COLUMNS[name], **changes)  # type: ignore[arg-type]
