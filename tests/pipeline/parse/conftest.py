from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import polars as pl
import pytest

from pipeline.parse.interpret import interpret
from pipeline.parse.mapping_file import parse_mapping
from pipeline.parse.model import CannotInterpret, Interpretation, Parsed
from pipeline.parse.rows import parse_batch
from pipeline.sources.model import RawSheet
from schemas.lab import LabSettings

Row = Sequence[str | None]


def batch_of(rows: Sequence[Row], *, width: int, first_line: int = 2) -> pl.DataFrame:
    """A batch as sources hand it over: text cells, null where empty."""
    columns = {f"c{place}": [row[place] or None for row in rows] for place in range(width)}
    lines = list(range(first_line, first_line + len(rows)))
    schema = {"line": pl.Int64(), **dict.fromkeys(columns, pl.String())}
    return pl.DataFrame({"line": lines, **columns}, schema=schema)


@dataclass(frozen=True)
class Desk:
    """A sheet, and what columns.toml and lab.toml say."""

    sheet: RawSheet
    toml: str
    settings: LabSettings

    def settled(self, table: str | None = None) -> Interpretation | CannotInterpret:
        return interpret(self.sheet, parse_mapping(self.toml.encode(), "columns.toml"), self.settings, table=table)

    def how(self, table: str | None = None) -> Interpretation:
        settled = self.settled(table)
        assert isinstance(settled, Interpretation), settled
        return settled

    def why_not(self, table: str | None = None) -> CannotInterpret:
        settled = self.settled(table)
        assert isinstance(settled, CannotInterpret), settled
        return settled

    def parsed(self, table: str | None = None) -> Parsed:
        how = self.how(table)
        parts = [parse_batch(batch, how) for batch in self.sheet.batches()]
        assert len(parts) == 1
        return parts[0]


@pytest.fixture
def desk() -> Callable[..., Desk]:
    """Lay a sheet written as lines on the desk; cells are separated by `sep`."""

    def lay(
        text: str,
        *,
        sep: str = ",",
        file: str = "log.csv",
        sheet: str = "",
        toml: str = "",
        timezone: str = "UTC",
        typed: bool = False,
        time_cells: tuple[int, ...] = (),
        constants: dict[str, str] | None = None,
    ) -> Desk:
        header, *rows = [[cell.strip() for cell in line.split(sep)] for line in text.strip().splitlines()]
        batch = batch_of(rows, width=len(header))
        raw = RawSheet(
            file=file,
            sheet=sheet,
            header=tuple(header),
            batches=lambda: iter((batch,)),
            rows_read=len(rows),
            blank=0,
            typed=typed,
            time_cells=time_cells,
        )
        return Desk(raw, toml, LabSettings(timezone=timezone, constants=constants or {}))

    return lay
