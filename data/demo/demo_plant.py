"""A planted fault: the row it sits in, the column, and the rule that should find it."""

from __future__ import annotations

from dataclasses import dataclass, field

from demo_brew import Row

SURPLUS = "(surplus cell)"
"""Key under which a row carries a cell that its header does not have."""


@dataclass(frozen=True)
class Plant:
    """`severity` is hard (the row is set aside) or soft (kept and flagged); `note` says what happened."""

    row: Row
    column: str
    rule: str
    severity: str
    note: str


@dataclass
class Tables:
    """Rows by file of the demo, in writing order, and what was planted in them."""

    rows: dict[str, list[Row]] = field(default_factory=dict)
    plants: list[Plant] = field(default_factory=list)

    def put(self, file: str, row: Row, *, after: Row | None = None) -> Row:
        """Append a row to a file, or insert it below another one."""
        rows = self.rows.setdefault(file, [])
        at = len(rows) if after is None else next(i for i, r in enumerate(rows) if r is after) + 1
        rows.insert(at, row)
        return row

    def plant(self, row: Row, column: str, rule: str, note: str, *, severity: str = "hard") -> None:
        """Note down that this row should be found by this rule."""
        self.plants.append(Plant(row, column, rule, severity, note))
