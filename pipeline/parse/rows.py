"""One batch of text to typed rows, inline readings, and the reasons against the rows that cannot be taken."""

from __future__ import annotations

from dataclasses import replace

import polars as pl

from pipeline.parse.cells import clock_column, text_columns, with_clock
from pipeline.parse.checks import check
from pipeline.parse.found import TIME_OF_DAY
from pipeline.parse.inline import inline_readings
from pipeline.parse.model import Interpretation, Parsed
from pipeline.parse.one_column import parse_column
from pipeline.parse.say import reason
from pipeline.parse.scores import melt_scores
from pipeline.parse.totals import FIX as TOTALS_FIX
from pipeline.parse.totals import sums_up, with_totals_fix
from pipeline.parse.work import Work, whole_contract
from pipeline.sources.model import RawSheet
from schemas.contracts import TABLES
from schemas.dtypes import frame_schema
from schemas.reports import REASON_SCHEMA

REPEATED_HOUR = "times in an hour that the clocks repeat, read as the first of the two"


def parse_batch(batch: pl.DataFrame, how: Interpretation) -> Parsed:
    """Type the rows of one batch (`line` and text columns c0, c1, ...) as `how` settles it.

    Applies every hard rule that needs one row and no physics. A row with any reason, one of its inline readings or
    scores included, is left out as a whole.
    """
    work = Work(how, batch["line"])
    _type_columns(batch, work)
    frame = _with_defaults(work.frame(), how.table)
    if any(one.role == "score" for one in how.columns):
        frame = melt_scores(work, frame)
    check(work, frame)
    readings = inline_readings(work) if how.inline_readings else _no_readings()
    reasons = work.all_reasons()
    rows = whole_contract(frame, how.table)
    if how.table == "brews":
        rows = rows.with_columns(brewed_at_is_date=_is_date(work))
    if not reasons.is_empty():
        reasons = with_totals_fix(reasons, batch, how)
        good = ~pl.col("line").is_in(reasons["line"].unique().implode())
        rows, readings = rows.filter(good), readings.filter(good)
    return Parsed(rows, readings, reasons, dict(work.counts))


def ragged_reasons(sheet: RawSheet, how: Interpretation) -> pl.DataFrame:
    """Reasons against the rows whose number of cells differs from the header's."""
    found = []
    for row in sheet.ragged:
        message, fix = reason("ragged_row", found=len(row.cells), expected=len(sheet.header))
        fix = TOTALS_FIX if sums_up(row.cells[:1]) else fix
        found.append((row.line, how.table, None, None, "ragged_row", message, fix))
    return pl.DataFrame(found, schema=REASON_SCHEMA, orient="row")


def _type_columns(batch: pl.DataFrame, work: Work) -> None:
    clock = clock_column(batch, work.how)
    for one in text_columns(batch, work.how):
        if one.name == "brewed_at" and clock is not None:
            one = replace(one, text=with_clock(one.text, clock))  # noqa: PLW2901
        typed = parse_column(one, work.how)
        work.take(one, typed)
        if typed.repeated_hour:
            work.counts[REPEATED_HOUR] += typed.repeated_hour
    if clock is not None:
        rows = clock.bad.arg_true()
        values = clock.own.gather(rows).to_list()
        said = [
            (f"{clock.label} should be a time of day, not {value}.", "Write it as 9:15 or 14:05.") for value in values
        ]
        work.note(TIME_OF_DAY, "not_a_date", rows.to_list(), values, said)


def _with_defaults(frame: pl.DataFrame, table: str) -> pl.DataFrame:
    """An empty sample is sample 1, an empty scale is dissolved solids."""
    if table != "readings":
        return frame
    sample = pl.col("sample_no") if "sample_no" in frame.columns else pl.lit(None, pl.Int64())
    scale = pl.col("reading_scale") if "reading_scale" in frame.columns else pl.lit(None, pl.String())
    return frame.with_columns(sample_no=sample.fill_null(1), reading_scale=scale.fill_null("tds"))


def _is_date(work: Work) -> pl.Series | pl.Expr:
    brewed = work.typed.get("brewed_at")
    return pl.lit(False) if brewed is None or brewed.is_date is None else brewed.is_date


def _no_readings() -> pl.DataFrame:
    return pl.DataFrame(schema={"line": pl.Int64(), **frame_schema(list(TABLES["readings"].columns.values()))})
