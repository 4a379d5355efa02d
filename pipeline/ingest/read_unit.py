"""First pass over a file: text to typed rows, minus those that break a rule on their own."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field
from datetime import timedelta
from zoneinfo import ZoneInfo

import polars as pl

from analysis.measurement.drying_rows import drying_reasons
from analysis.physics import physics_reasons, reading_reasons
from pipeline.ingest.context import Context
from pipeline.ingest.parents import unknown_codes, unknown_instruments, unknown_parents
from pipeline.ingest.spool import Chunk, Spool
from pipeline.ingest.unit import SHEET_REASON_SCHEMA, WHERE, Part, Unit, without
from pipeline.parse.rows import parse_batch, ragged_reasons
from pipeline.parse.say import reason
from schemas.contracts import TABLES


@dataclass
class ReadUnit:
    """Rows that passed so far (with sheet and line), their inline readings, and the reasons against the others."""

    chunks: Spool = field(default_factory=Spool)
    reasons: list[pl.DataFrame] = field(default_factory=list)
    counts: Counter[str] = field(default_factory=Counter)

    def notes(self) -> list[str]:
        """What parsing has to tell, in words, with how often it happened."""
        return [f"{words}: {count}" for words, count in self.counts.items()]


def read_unit(unit: Unit, context: Context) -> ReadUnit:
    """Parse every sheet of the unit and apply the rules that need one row, its readings and its parents."""
    out = ReadUnit()
    for part in unit.parts:
        out.reasons.append(_on_sheet(ragged_reasons(part.sheet, part.how), part.sheet.sheet))
        for batch in part.sheet.batches():
            _read_batch(batch, part, unit, context, out)
            context.progress(unit.file, batch.height)
    return out


def _read_batch(batch: pl.DataFrame, part: Part, unit: Unit, context: Context, out: ReadUnit) -> None:
    sheet = pl.lit(part.sheet.sheet, pl.String()).alias("sheet")
    parsed = parse_batch(batch, part.how)
    out.counts.update(parsed.counts)
    rows, readings = parsed.rows.with_columns(sheet), parsed.readings.with_columns(sheet)
    reasons = [_on_sheet(parsed.reasons, part.sheet.sheet), future_reasons(rows, unit.table, context)]
    if unit.table == "brews":
        reasons.append(_on_sheet(physics_reasons(rows, readings, settings=context.settings), part.sheet.sheet))
    if unit.table == "dryings":
        reasons.append(_on_sheet(drying_reasons(rows), part.sheet.sheet))
    kept = without(rows, pl.concat(reasons))
    unknown = unknown_parents(kept, unit.table, context)
    if part.how.inline_readings:
        unknown = pl.concat([unknown, unknown_instruments(readings.join(kept.select(WHERE), on=WHERE), context)])
    if unit.table == "tastings":
        unknown = pl.concat([unknown, unknown_codes(kept, context)])
    if unit.table == "readings":
        reasons.append(reasons_of_readings(without(kept, unknown), context))
        kept = without(kept, reasons[-1])
    out.reasons += [*reasons, unknown]
    kept = without(kept, unknown)
    own = readings if part.how.inline_readings else None
    if own is not None and kept.height < rows.height:
        own = own.join(kept.select(WHERE), on=WHERE, how="semi")
    out.chunks.add(Chunk(kept, own))


def reasons_of_readings(readings: pl.DataFrame, context: Context) -> pl.DataFrame:
    """Readings that would put more than the possible share of their brew's dose into the cup."""
    named = readings.select("brew_id").unique().lazy()
    brews = context.draft.current("brews").join(named, on="brew_id", how="semi").collect()
    # Rows of several sheets may share a line, so a number of their own stands in for it.
    numbered = readings.with_columns(at="line", line=pl.int_range(pl.len(), dtype=pl.Int64))
    found = reading_reasons(numbered, brews, settings=context.settings)
    places = numbered.select("line", "sheet", "at")
    return found.join(places, on="line", how="left").with_columns(line="at").select(list(SHEET_REASON_SCHEMA))


def future_reasons(rows: pl.DataFrame, table: str, context: Context) -> pl.DataFrame:
    """Times more than a day ahead of the clock; a void brew may say what it likes."""
    found, zone = [], ZoneInfo(context.settings.timezone)
    for column in TABLES[table].columns.values():
        if column.kind != "time":
            continue
        late = rows.filter(pl.col(column.name) > pl.lit(context.now + timedelta(days=1)))
        if table == "brews":
            late = late.filter(pl.col("void_reason").is_null())
        for sheet, line, value in late.select("sheet", "line", column.name).iter_rows():
            when = value.astimezone(zone).isoformat()
            message, fix = reason(
                "in_the_future",
                column=column.name,
                value=when,
                now=context.now.astimezone(zone).isoformat(timespec="minutes"),
            )
            found.append((sheet, line, table, column.name, when, "in_the_future", message, fix))
    return pl.DataFrame(found, schema=SHEET_REASON_SCHEMA, orient="row")


def _on_sheet(reasons: pl.DataFrame, sheet: str) -> pl.DataFrame:
    return reasons.with_columns(sheet=pl.lit(sheet, pl.String())).select(list(SHEET_REASON_SCHEMA))
