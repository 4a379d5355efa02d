"""What one own header was found to be."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

from pipeline.parse.model import Combined, Conversion, DateOrder, Role

How = Literal["declared", "contract", "alias"]
TIME_OF_DAY = "time_of_day"


@dataclass(frozen=True)
class Found:
    """Own header `header` at `position` is `column`.

    `number` is the digit of a numbered reading. `open_time` marks a header that is the brew time or a time of day.
    `unit_said` tells whether header or mapping named the unit.
    """

    position: int
    header: str
    column: str
    how: How
    conversion: Conversion = ""
    role: Role = "value"
    number: int | None = None
    unit_said: bool = False
    date_order: DateOrder | None = None
    brix: bool = False
    open_time: bool = False


@dataclass(frozen=True)
class Match:
    """The headers of one sheet seen as one table; `unknown` are headers left over, `notes` what to ask or tell."""

    table: str
    found: tuple[Found, ...]
    unknown: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    combined: tuple[Combined, ...] = ()
    constants: dict[str, str] = field(default_factory=dict)

    @property
    def columns(self) -> set[str]:
        """Columns of the table that have a source: a header, a combination, the scores or a constant."""
        names = {found.column for found in self.found if found.role in ("value", "reading")}
        scores = {"attribute", "score"} if any(found.role == "score" for found in self.found) else set()
        return names | scores | {combined.column for combined in self.combined} | set(self.constants)
