"""One batch while it is being parsed."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field

import polars as pl

from pipeline.parse.cells import TextColumn
from pipeline.parse.model import Interpretation
from pipeline.parse.one_column import TypedColumn
from pipeline.parse.reasons import Sentences, unparsed
from schemas.contracts import TABLES
from schemas.dtypes import frame_schema
from schemas.reports import REASON_SCHEMA

SOFT_FOR_VOID = ("empty_required", "not_positive", "too_low", "too_high", "balance_unknown")
"""What a void brew may break: its key and its types must hold, nothing else."""


@dataclass
class Work:
    """Text and typed values by name, aligned to `lines`; where a cell did not parse; the reasons found so far."""

    how: Interpretation
    lines: pl.Series
    texts: dict[str, TextColumn] = field(default_factory=dict)
    typed: dict[str, TypedColumn] = field(default_factory=dict)
    reasons: list[tuple[object, ...]] = field(default_factory=list)
    counts: Counter[str] = field(default_factory=Counter)

    def take(self, one: TextColumn, typed: TypedColumn) -> None:
        """Keep a column, and note what of it did not parse."""
        self.texts[one.name], self.typed[one.name] = one, typed
        if typed.rule is None:
            return
        for rule in typed.rule.drop_nulls().unique(maintain_order=True):
            rows = (typed.rule == rule).arg_true()
            values = one.text.gather(rows).to_list()
            self.note(one.name, rule, rows.to_list(), values, [unparsed(one, rule, v, self.how) for v in values])

    def note(self, column: str, rule: str, rows: list[int], values: list[str | None], said: list[Sentences]) -> None:
        """Note reasons against rows, given by their place in the batch."""
        for row, value, (message, fix) in zip(rows, values, said, strict=True):
            self.reasons.append((row, self.how.table, column, value, rule, message, fix))

    def parsed_ill(self, name: str, row: int) -> bool:
        """Whether the cell was filled but did not parse; it is then not called empty as well."""
        rule = self.typed[name].rule if name in self.typed else None
        return rule is not None and rule[row] is not None

    def own_text(self, name: str, row: int) -> str | None:
        """The cell as it stood, null for a column the sheet does not have."""
        return self.texts[name].text[row] if name in self.texts else None

    def frame(self) -> pl.DataFrame:
        """`line` and the typed columns of the table's own contract."""
        names = [name for name in TABLES[self.how.table].columns if name in self.typed]
        return pl.DataFrame({"line": self.lines, **{name: self.typed[name].values for name in names}})

    def void(self) -> pl.Series | None:
        """Which rows are void brews; None when the sheet cannot have any."""
        if self.how.table != "brews" or "void_reason" not in self.typed:
            return None
        return self.typed["void_reason"].values.is_not_null()

    def all_reasons(self) -> pl.DataFrame:
        """Every reason so far (REASON_SCHEMA), by line."""
        found = pl.DataFrame(self.reasons, schema=REASON_SCHEMA, orient="row")
        return found.with_columns(line=self.lines.gather(found["line"])).sort("line", maintain_order=True)


def whole_contract(frame: pl.DataFrame, table: str) -> pl.DataFrame:
    """The frame with every column of the table's contract, null where absent, after `line`."""
    schema = frame_schema(list(TABLES[table].columns.values()))
    missing = [pl.lit(None, dtype).alias(name) for name, dtype in schema.items() if name not in frame.columns]
    return frame.with_columns(missing).select("line", *schema)
