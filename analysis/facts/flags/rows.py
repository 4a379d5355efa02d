"""From rows that a check found to rows of `flags`."""

from __future__ import annotations

from typing import Any

import polars as pl

from analysis.physics import plain
from schemas.columns import COLUMNS
from schemas.contracts import TABLES
from schemas.dtypes import TIME, frame_schema
from schemas.lab import LabSettings
from schemas.reports import FLAG_COLUMNS
from schemas.rules import RULES

FOUND = {
    "brew": pl.Int64(),
    "reading": pl.Int64(),
    "column": pl.String(),
    "value": pl.String(),
    "rule": pl.String(),
    "message": pl.String(),
    "fix": pl.String(),
}
"""What a check hands over: row numbers of the brew and, where it is about a reading, of that; then the words."""
FLAG_SCHEMA = frame_schema([COLUMNS[name] for name in FLAG_COLUMNS])
MOST_DIGITS = 6
FLAG_ORDER = ("source_file", "sheet", "line", "brew_id", "rule", "column", "value")


def speak(found: pl.DataFrame, rule_name: str, *, column: str = "", digits: int = 2) -> pl.DataFrame:
    """Rows of `FOUND` for the rows a check found.

    `found` has brew, value, and a column for every other name in the rule's sentences; reading where it is about one,
    column unless it is given here. Where it has count, only the first of that many brews is listed and the sentence
    says so.
    """
    rule = RULES[rule_name]
    rows = []
    for row in found.iter_rows(named=True):
        told = _digits(row, digits)
        words = {"column": column, **{name: _words(cell, told) for name, cell in row.items()}}
        message, fix = rule.message.format(**words), rule.fix.format(**words)
        if row.get("count", 1) > 1:
            message += f" This holds for {row['count']} brews of the file."
        rows.append((row["brew"], row.get("reading"), words["column"], words.get("value"), rule_name, message, fix))
    return pl.DataFrame(rows, schema=FOUND, orient="row")


def _digits(row: dict[str, Any], digits: int) -> int:
    """As many digits as keep a value beyond a bound from being told as that bound (28.02 is not 28)."""
    value, bounds = row.get("value"), [row.get(name) for name in ("low", "high", "limit")]
    if isinstance(value, float):
        while digits < MOST_DIGITS and round(value, digits) in [
            round(bound, digits) for bound in bounds if isinstance(bound, float) and bound != value
        ]:
            digits += 1
    return digits


def _words(cell: Any, digits: int) -> str:
    if isinstance(cell, float):
        return plain(cell, digits)
    return "" if cell is None else str(cell)


def first_of_each(found: pl.DataFrame, *keys: str) -> pl.DataFrame:
    """The first row of each group, with how many brews the group has in `count`."""
    return found.group_by(keys, maintain_order=True).agg(
        pl.all().first(), count=pl.col("brew").n_unique().cast(pl.Int64)
    )


def flag_rows(
    found: pl.DataFrame, brews: pl.DataFrame, readings: pl.DataFrame, *, settings: LabSettings
) -> pl.DataFrame:
    """Rows of `flags`, `FLAG_COLUMNS`, in file order; `row_json` is the flagged row in its contract's columns."""
    about_reading = pl.col("reading").is_not_null()
    return (
        pl.concat(
            [
                _of_table(found.filter(~about_reading), brews, "brews", "brew", settings),
                _of_table(found.filter(about_reading), readings, "readings", "reading", settings),
            ]
        )
        .sort(FLAG_ORDER, maintain_order=True)
        .select(FLAG_COLUMNS)
    )


def _of_table(found: pl.DataFrame, rows: pl.DataFrame, table: str, number: str, settings: LabSettings) -> pl.DataFrame:
    flagged = rows.join(found.select(number).unique(), on=number, how="semi")
    where = flagged.select(
        number, "brew_id", "source_file", "sheet", "line", row_json=row_json(flagged, table, settings)
    )
    return found.join(where, on=number, how="inner").select(
        *(
            pl.lit(table).alias("table") if name == "table" else pl.col(name).cast(FLAG_SCHEMA[name])
            for name in FLAG_COLUMNS
        )
    )


def row_json(rows: pl.DataFrame, table: str, settings: LabSettings) -> pl.Series:
    """Each stored row of a table as JSON in its contract's columns, times in the lab's zone, a bare date as one."""
    names = TABLES[table].column_names
    times = [name for name in names if rows.schema[name] == TIME]
    local = pl.col(times).dt.convert_time_zone(settings.timezone).dt.to_string("%Y-%m-%dT%H:%M:%S%.f%:z")
    written = rows.select(names).with_columns(local)
    if "brewed_at_is_date" in rows.columns:
        day = written["brewed_at"].str.head(10)
        written = written.with_columns(
            brewed_at=pl.when(rows["brewed_at_is_date"].fill_null(False)).then(day).otherwise("brewed_at")
        )
    return written.to_struct().struct.json_encode()
