"""Names for brews in logs that give them none: time and operator where that is unique, else place in the file."""

from __future__ import annotations

from pathlib import PurePath

import polars as pl

from pipeline.ingest.draft import Draft
from pipeline.ingest.keys import READINGS_ALIKE, readings_alike
from pipeline.ingest.spool import Chunk, Spool
from pipeline.ingest.unit import WHERE, Unit


def with_made_ids(chunks: Spool, unit: Unit, draft: Draft) -> tuple[Spool, list[str]]:
    """The chunks of a file as one, its brews named, and what to tell the user."""
    if chunks.is_empty():
        return chunks, []
    every = list(chunks)
    own = [chunk.readings for chunk in every if chunk.readings is not None]
    readings = pl.concat(own) if own else None
    rows = pl.concat([chunk.rows for chunk in every])
    if readings is not None:
        rows = rows.join(readings_alike(readings), on=WHERE, how="left")
    named, notes = name_brews(rows, unit)
    if unit.mended:
        named = _not_of_another_row(named, unit, draft)
    chunks.close()
    out = Spool()
    out.add(Chunk(named.drop(READINGS_ALIKE, strict=False), readings))
    return out, notes


def name_brews(rows: pl.DataFrame, unit: Unit) -> tuple[pl.DataFrame, list[str]]:
    """Rows of a whole file with `brew_id` filled where it was empty, and what to tell the user.

    Rows that agree in every value share one id: they are one row written twice. Rows of which only the day is
    known are named by their place, since two brews of a day may well look alike.
    """
    how = unit.parts[0].how
    if how.id_from:
        joined, names = _joined(how.id_from, how.timezone), ", ".join(how.id_from)
        made = rows.with_columns(brew_id=pl.when(joined != "").then(joined).otherwise(_place(unit, how.timezone)))
        empty = rows.select((joined == "").sum()).item()
        notes = [f"brew_id made from {names}"]
        return made, [*notes, f"where {names} are empty, from day, sheet and row: {empty}"] if empty else notes
    values = [name for name in rows.columns if name not in ("sheet", "line", "brew_id")]
    moment = _joined(("brewed_at", "operator"), how.timezone)
    marked = rows.with_columns(_moment=moment, _alike=pl.struct(values).hash(seed=7))
    unique = (~pl.col("brewed_at_is_date")) & (pl.col("_alike").n_unique().over("_moment") == 1)
    made = marked.with_columns(brew_id=pl.when(unique).then("_moment").otherwise(_place(unit, how.timezone)))
    by_place = made.filter(~unique).height if made.height else 0
    notes = []
    if by_place < made.height:
        notes.append(f"brew_id made from time and operator for {made.height - by_place} rows")
    if by_place:
        notes.append(
            f"brew_id made from day, sheet and row for {by_place} rows, because time and operator do not tell them "
            "apart; keep the rows in their order, or add a brew_id column"
        )
    return made.drop("_moment", "_alike"), notes


def _not_of_another_row(named: pl.DataFrame, unit: Unit, draft: Draft) -> pl.DataFrame:
    """Mended rows, named by their place where another row of the store already has their name.

    The file's other rows are not here to show that time and operator do not tell them apart.
    """
    stored = draft.current("brews").select("brew_id", "source_file", _sheet="sheet", _line="line")
    theirs = named.lazy().select("brew_id", *WHERE).join(stored, on="brew_id").collect()
    here = (
        (pl.col("source_file") == unit.source_file)
        & (pl.col("_sheet") == pl.col("sheet"))
        & (pl.col("_line") == pl.col("line"))
    )
    others = theirs.filter(~here)["brew_id"]
    taken = pl.col("brew_id").is_in(others.implode())
    return named.with_columns(
        brew_id=pl.when(taken).then(_place(unit, unit.parts[0].how.timezone)).otherwise("brew_id")
    )


def _joined(names: tuple[str, ...], timezone: str) -> pl.Expr:
    return pl.concat_str([_text(name, timezone) for name in names], separator=" ", ignore_nulls=True)


def _text(name: str, timezone: str) -> pl.Expr:
    if name != "brewed_at":
        return pl.col(name).cast(pl.String())
    local = pl.col(name).dt.convert_time_zone(timezone)
    minute = local.dt.strftime("%Y-%m-%dT%H:%M")
    return pl.when(local.dt.second() == 0).then(minute).otherwise(local.dt.strftime("%Y-%m-%dT%H:%M:%S"))


def _place(unit: Unit, timezone: str) -> pl.Expr:
    stem = PurePath(unit.source_file).name.split(".")[0]
    day = pl.col("brewed_at").dt.convert_time_zone(timezone).dt.strftime("%Y-%m-%d")
    sheet = pl.when(pl.col("sheet") == "").then(pl.lit("")).otherwise(pl.col("sheet") + pl.lit(" "))
    return pl.concat_str(day, pl.lit(f" {stem} "), sheet, pl.col("line").cast(pl.String()))
