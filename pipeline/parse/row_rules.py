"""Hard rules that look at several columns of one row, without any physics."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import polars as pl

from pipeline.parse.say import reason
from schemas.contracts import TABLES

BALANCED_SCALES = ("taste_balance", "taste_strength")
SCALE_END = 2.0


@dataclass(frozen=True)
class RuleBroken:
    """Rows (by place in the frame) that break a rule of one column, each with the value and the sentences."""

    rule: str
    column: str
    rows: list[int]
    values: list[str | None]
    said: list[tuple[str, str]]


def broken_rules(typed: pl.DataFrame, table: str) -> Iterator[RuleBroken]:
    """Everything in a typed frame of a table that breaks a rule between columns."""
    if {"low", "high"} <= set(typed.columns):
        yield _low_above_high(typed)
    if table == "brews" and "method" in typed.columns:
        yield _balance_unknown(typed)
    if table == "tastings":
        yield from _beyond_the_scale(typed)
    if TABLES[table].one_of:
        yield _names_nothing(typed, table)


def _rows(typed: pl.DataFrame, where: pl.Expr) -> list[int]:
    return typed.select(where.fill_null(False).arg_true()).to_series().to_list()


def _low_above_high(typed: pl.DataFrame) -> RuleBroken:
    rows = _rows(typed, pl.col("low") > pl.col("high"))
    pairs = [typed.row(row, named=True) for row in rows]
    said = [reason("low_above_high", low=pair["low"], high=pair["high"]) for pair in pairs]
    return RuleBroken("low_above_high", "low", rows, [str(pair["low"]) for pair in pairs], said)


def _balance_unknown(typed: pl.DataFrame) -> RuleBroken:
    unsaid = pl.col("mass_balance").is_null() if "mass_balance" in typed.columns else pl.lit(True)
    rows = _rows(typed, (pl.col("method") == "other") & unsaid)
    return RuleBroken(
        "balance_unknown", "mass_balance", rows, [None] * len(rows), [reason("balance_unknown")] * len(rows)
    )


def _beyond_the_scale(typed: pl.DataFrame) -> Iterator[RuleBroken]:
    on_scale = pl.col("attribute").is_in(BALANCED_SCALES)
    for rule, beyond, limit in (
        ("too_low", pl.col("score") < -SCALE_END, -SCALE_END),
        ("too_high", pl.col("score") > SCALE_END, SCALE_END),
    ):
        rows = _rows(typed, on_scale & beyond)
        cells = [typed.row(row, named=True) for row in rows]
        said = [reason(rule, column=cell["attribute"], value=cell["score"], unit="", limit=limit) for cell in cells]
        yield RuleBroken(rule, "score", rows, [str(cell["score"]) for cell in cells], said)


def _names_nothing(typed: pl.DataFrame, table: str) -> RuleBroken:
    contract = TABLES[table]
    named = [
        pl.all_horizontal(pl.col(group).is_not_null()) for group in contract.one_of if set(group) <= set(typed.columns)
    ]
    rows = _rows(typed, ~pl.any_horizontal(named)) if named else list(range(typed.height))
    choices = " or ".join(" with ".join(group) for group in contract.one_of)
    _, fix = reason("empty_required", column=choices, row=contract.row)
    said = (f"A {contract.row} needs {choices}; none is filled in.", fix)
    return RuleBroken("empty_required", contract.one_of[0][0], rows, [None] * len(rows), [said] * len(rows))
