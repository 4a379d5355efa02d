"""Ids that rows name: unknown brews send a row back to wait, other unseen parents get a stub."""

from __future__ import annotations

import polars as pl

from analysis.resemblance import resembles
from pipeline.ingest.context import Context
from pipeline.ingest.draft import Draft
from pipeline.ingest.report import Stub
from pipeline.ingest.unit import SHEET_REASON_SCHEMA
from pipeline.parse.say import reason
from schemas.contracts import TABLES
from schemas.dtypes import stored_schema
from schemas.stubs import LACKS

CODE_OF_SESSION = ("session_id", "blind_code")


def parents_of(table: str) -> dict[str, str]:
    """Columns of a table that name ids, by the table whose ids they are; a log of brews also names instruments."""
    inline = {"instrument_id": "instruments"} if table == "brews" else {}
    return dict(TABLES[table].parents) | inline


def unknown_parents(rows: pl.DataFrame, table: str, context: Context) -> pl.DataFrame:
    """Reasons (SHEET_REASON_SCHEMA) for rows naming an id that is not known and may not be made up."""
    found = []
    for column, parent in TABLES[table].parents:
        if parent != "brews" and context.settings.unknown_parents == "stub":
            continue
        known = context.draft.ids(parent)
        bad = rows.filter(pl.col(column).is_not_null() & ~pl.col(column).is_in(known.implode()))
        for sheet, line, value in bad.select("sheet", "line", column).iter_rows():
            message, fix = reason("unknown_id", column=column, value=value, parent=parent)
            found.append((sheet, line, table, column, value, "unknown_id", message, fix))
    return pl.DataFrame(found, schema=SHEET_REASON_SCHEMA, orient="row")


def unknown_codes(tastings: pl.DataFrame, context: Context) -> pl.DataFrame:
    """Reasons (SHEET_REASON_SCHEMA) for scores whose cup is named by a code that no key of that session has.

    What was in the cup is not guessed; a score that names its brew or coffee itself needs no key.
    """
    blind = tastings.filter(pl.col("brew_id").is_null() & pl.col("coffee_id").is_null())
    bad = blind.join(codes_known(context.draft), on=CODE_OF_SESSION, how="anti") if blind.height else blind
    found = []
    for sheet, line, session, code in bad.select("sheet", "line", *CODE_OF_SESSION).iter_rows():
        message, fix = reason("unknown_id", column="blind_code", value=code, parent=f"servings of session {session}")
        found.append((sheet, line, "tastings", "blind_code", code, "unknown_id", message, fix))
    return pl.DataFrame(found, schema=SHEET_REASON_SCHEMA, orient="row")


def codes_known(draft: Draft) -> pl.DataFrame:
    """Sessions with their blind codes, as far as keys have been handed in."""
    return draft.current("servings").select(CODE_OF_SESSION).collect()


def unknown_instruments(readings: pl.DataFrame, context: Context) -> pl.DataFrame:
    """Reasons against rows of a log whose readings name an instrument that is not known and may not be made up."""
    found = unknown_parents(readings.with_columns(brew_id=pl.lit(None, pl.String())), "readings", context)
    return found.with_columns(table=pl.lit("brews")).unique(maintain_order=True)


def make_stubs(rows: pl.DataFrame, table: str, source_file: str, draft: Draft) -> list[Stub]:
    """Add a stub for every unseen parent that these rows name; rows carry sheet and line."""
    made = []
    for column, parent in TABLES[table].parents:
        if parent == "brews":
            continue
        known = draft.ids(parent)
        unseen = (
            rows.filter(pl.col(column).is_not_null() & ~pl.col(column).is_in(known.implode()))
            .group_by(column, maintain_order=True)
            .agg(pl.all().first(), naming=pl.len())
            .sort(column)
        )
        if unseen.is_empty():
            continue
        made += _stubs(parent, unseen.select(column, "naming").rows(), known.to_list())
        draft.add_rows(parent, _stub_rows(unseen, column, parent, source_file))
    return made


def _stubs(parent: str, unseen: list[tuple[str, int]], known: list[str]) -> list[Stub]:
    """Stubs of ids with the number of rows naming each; one is compared with known ids and with more frequent ones."""
    return [
        Stub(parent, name, LACKS[parent], resembles(name, known + [other for other, more in unseen if more > often]))
        for name, often in unseen
    ]


def _stub_rows(unseen: pl.DataFrame, column: str, parent: str, source_file: str) -> pl.DataFrame:
    """Typed rows of the parent table holding the id alone; a lot also inherits the row's coffee."""
    key = TABLES[parent].key[0]
    known = {key: unseen[column], "sheet": unseen["sheet"], "line": unseen["line"]}
    if parent == "lots":
        known["coffee_id"] = unseen["coffee_id"]
    schema = stored_schema(TABLES[parent])
    return (
        pl.DataFrame(known)
        .select(
            known[name].cast(kind).alias(name) if name in known else pl.lit(None, kind).alias(name)
            for name, kind in schema.items()
        )
        .with_columns(source_file=pl.lit(source_file), revision=pl.lit(0, pl.Int64()))
    )
