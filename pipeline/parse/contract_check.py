"""The contract as a pandera schema, and what of a typed frame breaks it, by our named rules."""

from __future__ import annotations

from collections.abc import Collection
from functools import lru_cache
from typing import TYPE_CHECKING, Any

import polars as pl

from pipeline.parse.one_header import column_of
from schemas.column import Column
from schemas.dtypes import DTYPE_OF_KIND

if TYPE_CHECKING:
    import pandera.polars as pa

FAILURE_SCHEMA = {"row": pl.Int64(), "column": pl.String(), "rule": pl.String()}
_RULE_OF_PANDERA_CHECK = {"not_nullable": "empty_required"}


@lru_cache(maxsize=64)
def contract_schema(table: str, columns: tuple[str, ...], required: frozenset[str]) -> pa.DataFrameSchema:
    """Pandera schema of these columns of a table; each check carries the name of the rule it stands for."""
    import pandera.polars as pa

    return pa.DataFrameSchema(
        {
            name: pa.Column(
                DTYPE_OF_KIND[column_of(table, name).kind],
                _checks(column_of(table, name)),
                nullable=name not in required,
            )
            for name in columns
        },
        strict=True,
        coerce=False,
    )


def _checks(column: Column) -> list[Any]:
    import pandera.polars as pa

    checks = []
    if column.choices:
        checks.append(pa.Check.isin(list(column.choices), error="not_in_list"))
    if column.above is not None:
        checks.append(pa.Check.gt(column.above, error="not_positive"))
    if column.low is not None:
        checks.append(pa.Check.ge(column.low, error="too_low"))
    if column.high is not None:
        checks.append(pa.Check.le(column.high, error="too_high"))
    return checks


def contract_failures(typed: pl.DataFrame, table: str, required: Collection[str]) -> pl.DataFrame:
    """Rows (by place in the frame), columns and rules of everything that breaks the contract.

    A frame of other columns or types than the contract's is a mistake of ours, never of the user, and raises.
    """
    from pandera.errors import SchemaErrors

    schema = contract_schema(table, tuple(typed.columns), frozenset(required) & frozenset(typed.columns))
    try:
        schema.validate(typed, lazy=True)
    except SchemaErrors as error:
        cases: pl.DataFrame = error.failure_cases
        if cases["index"].null_count():
            raise
        return cases.select(
            row=pl.col("index").cast(pl.Int64),
            column=pl.col("column"),
            rule=pl.col("check").replace(_RULE_OF_PANDERA_CHECK),
        )
    return pl.DataFrame(schema=FAILURE_SCHEMA)
