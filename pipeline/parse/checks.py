"""A typed batch against its contract and against the rules between columns."""

from __future__ import annotations

import polars as pl

from pipeline.parse.cells import TextColumn
from pipeline.parse.contract_check import contract_failures
from pipeline.parse.one_header import column_of
from pipeline.parse.reasons import out_of_contract
from pipeline.parse.row_rules import broken_rules
from pipeline.parse.work import SOFT_FOR_VOID, Work
from schemas.contracts import TABLES


def check(work: Work, frame: pl.DataFrame) -> None:
    """Note every row that breaks the contract; `frame` has typed columns, and `row` where it is not the batch's rows.

    A void brew is held to its key and its types only.
    """
    table = TABLES[work.how.table]
    typed = frame.drop("line", "row", strict=False)
    required = set(table.required) - ({"brew_id"} if work.how.make_brew_id else set())
    void = work.void()
    for place, column, rule in contract_failures(typed, table.name, required).iter_rows():
        row = frame["row"][place] if "row" in frame.columns else place
        if rule == "empty_required" and work.parsed_ill(column, row):
            continue
        if void is not None and void[row] and rule in SOFT_FOR_VOID and column not in table.key:
            continue
        name = _own_name(typed, place, column, work)
        one = work.texts.get(name) or TextColumn(column, column, column_of(table.name, column), pl.Series())
        said = out_of_contract(one, rule, typed[column][place], table.name)
        work.note(name, rule, [row], [work.own_text(name, row)], [said])
    for broken in broken_rules(typed, table.name):
        for place, value, said in zip(broken.rows, broken.values, broken.said, strict=True):
            row = frame["row"][place] if "row" in frame.columns else place
            if void is None or not void[row]:
                work.note(_own_name(typed, place, broken.column, work), broken.rule, [row], [value], [said])


def _own_name(typed: pl.DataFrame, place: int, column: str, work: Work) -> str:
    """The column as the sheet has it: a melted score belongs to its attribute's column."""
    melted = column == "score" and "score" not in work.texts
    return str(typed["attribute"][place]) if melted else column
