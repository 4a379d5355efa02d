"""The planned rows of a run sheet, filled in or not."""

from __future__ import annotations

from pathlib import Path

import polars as pl

from pipeline.parse.interpret import interpret
from pipeline.parse.mapping import read_mapping
from pipeline.parse.model import CannotInterpret, Interpretation
from pipeline.parse.which_table import recognised_headers
from pipeline.sources.model import RawSheet
from pipeline.sources.open import open_source
from schemas.columns import COLUMNS
from schemas.lab import LabSettings
from schemas.problem import ProblemError
from schemas.run_sheet import PLANNED, PURGE

IDS = ("brew_id", "study_id", "session_id", "coffee_id", "run_order")


def read_planned(path: Path, lab_dir: Path, settings: LabSettings) -> pl.DataFrame:
    """Ids and planned settings of every brew of a run sheet, in its order; purges left out.

    ProblemError where the file holds no run sheet.
    """
    if not path.is_file():
        raise ProblemError(f"There is no file {path}. Name the run sheet that `brewtrials plan` wrote.")
    source = open_source(path, is_header=recognised_headers)
    if source.refused:
        raise ProblemError(f"{path} cannot be read: {source.refused}")
    mapping = read_mapping(lab_dir)
    for sheet in source.sheets:
        how = interpret(sheet, mapping, settings)
        if not isinstance(how, CannotInterpret) and how.table == "brews" and _is_planned(how):
            return _rows(sheet, how)
    raise ProblemError(f"{path} is no run sheet: no sheet of it has columns such as planned_dose_g.")


def _is_planned(how: Interpretation) -> bool:
    return {one.column for one in how.columns} >= {"brew_id"} and any(one.column in PLANNED for one in how.columns)


def _rows(sheet: RawSheet, how: Interpretation) -> pl.DataFrame:
    place = {one.column: one.position for one in how.columns if one.role == "value"}
    wanted = [name for name in (*IDS, *PLANNED, "void_reason") if name in place]
    text = pl.concat(
        [batch.select(pl.col(f"c{place[name]}").alias(name) for name in wanted) for batch in sheet.batches()]
    )
    if "void_reason" in wanted:
        text = text.filter(pl.col("void_reason").ne_missing(PURGE))
    missing = [pl.lit(None, pl.String).alias(name) for name in IDS if name not in wanted]
    numeric = [name for name in wanted if COLUMNS[name].kind in ("number", "integer")]
    planned = text.with_columns(pl.col(name).cast(pl.Float64, strict=False) for name in numeric)
    return planned.with_columns(missing).drop("void_reason", strict=False).filter(pl.col("brew_id").is_not_null())
