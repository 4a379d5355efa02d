"""Readings of strength that stand in the brew's own row."""

from __future__ import annotations

import polars as pl

from pipeline.parse.contract_check import contract_failures
from pipeline.parse.reasons import out_of_contract
from pipeline.parse.work import SOFT_FOR_VOID, Work, whole_contract
from schemas.aliases import INLINE_READING_COLUMNS

SHARED = tuple(name for name in INLINE_READING_COLUMNS if name != "tds_pct")


def inline_readings(work: Work) -> pl.DataFrame:
    """Readings 1 to k of every row, by line; an empty cell is passed over. What breaks the contract is noted."""
    names = {one.reading_no: one.column for one in work.how.columns if one.role == "reading"}
    parts = []
    for number, name in names.items():
        values = work.typed[name].values
        cells = pl.DataFrame({"row": pl.int_range(len(values), eager=True), "tds_pct": values}).drop_nulls()
        parts.append(cells.with_columns(reading_no=pl.lit(number, pl.Int64())))
    long = pl.concat(parts).sort("row", "reading_no")
    shared = {name: work.typed[name].values.gather(long["row"]) for name in ("brew_id", *SHARED) if name in work.typed}
    long = long.with_columns(line=work.lines.gather(long["row"]), sample_no=pl.lit(1, pl.Int64()), **shared)
    scale = pl.col("reading_scale") if "reading_scale" in shared else pl.lit(None, pl.String())
    long = long.with_columns(reading_scale=scale.fill_null("tds"))
    _check(work, long, {number or 1: name for number, name in names.items()})
    return whole_contract(long.drop("row"), "readings")


def _check(work: Work, long: pl.DataFrame, names: dict[int, str]) -> None:
    """Note readings out of their range or list, under the header they came from."""
    failures = contract_failures(long.drop("row", "line"), "readings", ("reading_no", "tds_pct"))
    void = work.void()
    seen: set[tuple[str, str, int]] = set()
    for place, column, rule in failures.iter_rows():
        row, number = long["row"][place], long["reading_no"][place]
        name = names[number] if column == "tds_pct" else column
        if (name, rule, row) in seen or (void is not None and void[row] and rule in SOFT_FOR_VOID):
            continue
        seen.add((name, rule, row))
        said = out_of_contract(work.texts[name], rule, long[column][place], "readings")
        work.note(name, rule, [row], [work.own_text(name, row)], [said])
