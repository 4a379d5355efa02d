"""The key of a blind session: written apart from the sheets, read again from its file or from the stored servings."""

from __future__ import annotations

from pathlib import Path

import polars as pl

from pipeline.cupping.plan import CuppingPlan
from pipeline.parse.interpret import interpret
from pipeline.parse.mapping import read_mapping
from pipeline.parse.model import CannotInterpret
from pipeline.parse.rows import parse_batch
from pipeline.parse.which_table import recognised_headers
from pipeline.sources.open import open_source
from schemas.contracts import TABLES
from schemas.lab import LabSettings
from schemas.problem import ProblemError

KEY_COLUMNS = TABLES["servings"].column_names
KEY_SCHEMA = {name: pl.Int64() if name == "cup_no" else pl.String() for name in KEY_COLUMNS}


def key_frame(plan: CuppingPlan) -> pl.DataFrame:
    """One row per cup in the columns of the servings table, by session and code."""
    rows = [
        {
            "session_id": one.session_id,
            "blind_code": cup.blind_code,
            "brew_id": cup.sample.id if cup.sample.kind == "brew" else None,
            "coffee_id": cup.sample.id if cup.sample.kind == "coffee" else None,
            "cup_no": cup.cup_no,
            "served_as": plan.wanted.served_as,
        }
        for one in plan.sittings
        for cup in one.cups
    ]
    return pl.DataFrame(rows, schema=KEY_SCHEMA)


def read_key(path: Path, lab_dir: Path, settings: LabSettings) -> pl.DataFrame:
    """The rows of a key file (columns of the servings table), in its order.

    ProblemError where the file holds no key, or where a row of it would not be taken in.
    """
    if not path.is_file():
        raise ProblemError(f"There is no file {path}. Name the key that `brewtrials cupping plan` wrote.")
    source = open_source(path, is_header=recognised_headers)
    if source.refused:
        raise ProblemError(f"{path} cannot be read: {source.refused}")
    mapping = read_mapping(lab_dir)
    for sheet in source.sheets:
        how = interpret(sheet, mapping, settings)
        if isinstance(how, CannotInterpret) or how.table != "servings":
            continue
        parsed = [parse_batch(batch, how) for batch in sheet.batches()]
        reasons = [reason for one in parsed for reason in one.reasons.iter_rows(named=True)]
        if reasons or sheet.ragged:
            first = reasons[0] if reasons else {"line": sheet.ragged[0].line, "message": "Its cells do not fit."}
            raise ProblemError(
                f"{path}: {len(reasons) + len(sheet.ragged)} faults, the first on line {first['line']}: "
                f"{first['message']} Correct the key first."
            )
        rows = [one.rows.select(KEY_COLUMNS) for one in parsed]
        return _checked(pl.concat(rows) if rows else pl.DataFrame(schema=KEY_SCHEMA), str(path))
    raise ProblemError(f"{path} is no key: no sheet of it has session_id, blind_code and brew_id or coffee_id.")


def of_session(servings: pl.DataFrame, session_id: str) -> pl.DataFrame:
    """The stored servings of a session, or of all sessions of a plan of that name (name-1, name-2 and so on)."""
    own = servings.filter(pl.col("session_id") == session_id)
    if own.is_empty():
        numbered = servings.with_columns(no=pl.col("session_id").str.strip_prefix(f"{session_id}-"))
        own = numbered.filter(
            pl.col("session_id").str.starts_with(f"{session_id}-") & pl.col("no").str.contains(r"^\d+$")
        )
        own = own.sort(pl.col("no").cast(pl.Int64))
    if own.is_empty():
        raise ProblemError(
            f"No servings of a session {session_id} are in the project folder. Ingest the key, or name "
            "its file by --key."
        )
    return _checked(own.select(KEY_COLUMNS), f"session {session_id}")


def _checked(rows: pl.DataFrame, where: str) -> pl.DataFrame:
    if rows.is_empty():
        raise ProblemError(f"{where} has no rows: nothing is served.")
    twice = rows.filter(pl.struct("session_id", "blind_code").is_duplicated())
    if twice.height:
        code, session = twice.row(0, named=True)["blind_code"], twice.row(0, named=True)["session_id"]
        raise ProblemError(
            f"{where}: code {code} stands on {twice.height} rows; one session {session}, one code, one cup."
        )
    return rows
