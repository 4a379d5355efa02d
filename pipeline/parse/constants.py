"""Declared constants against the contract, before they are written into every row."""

from __future__ import annotations

from collections.abc import Mapping

import polars as pl

from pipeline.parse.cells import TextColumn, text_columns
from pipeline.parse.contract_check import contract_failures
from pipeline.parse.model import Interpretation
from pipeline.parse.one_column import parse_column
from pipeline.parse.reasons import out_of_contract, unparsed
from schemas.problem import ProblemError


def check_constants(constants: Mapping[str, str], table: str, timezone: str) -> None:
    """Raise ProblemError when a constant would set every row aside."""
    how = Interpretation(table=table, header=(), columns=(), constants=dict(constants), timezone=timezone)
    read: dict[str, tuple[TextColumn, pl.Series]] = {}
    for one in text_columns(pl.DataFrame({"line": [0]}), how):
        value = constants[one.name]
        typed = parse_column(one, how)
        if not value.strip():
            _refuse(one.name, value, f"{one.name} is empty.", "Give it a value.")
        if typed.rule is not None:
            _refuse(one.name, value, *unparsed(one, str(typed.rule[0]), value, how))
        read[one.name] = (one, typed.values)
    frame = pl.DataFrame({name: values for name, (_, values) in read.items()})
    for _, name, rule in contract_failures(frame, table, ()).iter_rows():
        one, values = read[name]
        _refuse(name, constants[name], *out_of_contract(one, rule, values[0], table))


def _refuse(name: str, value: str, message: str, fix: str) -> None:
    where = "It stands under [constants] in columns.toml or lab.toml."
    raise ProblemError(f'Constant {name} = "{value}": {message} {fix} {where}')
