"""Readings that stood in a log's row and no longer do: the newer version of the row has the last word."""

from __future__ import annotations

import polars as pl

from pipeline.ingest.draft import Draft
from pipeline.ingest.unit import WHERE, Unit
from pipeline.store.model import Manifest
from pipeline.store.read import current, replaced_schema
from schemas.contracts import TABLES

KEY = list(TABLES["readings"].key)
PLACE = ("source_file", "sheet", "line")


def dropped_readings(
    unit: Unit, rows: pl.DataFrame, readings: pl.DataFrame, draft: Draft, base: Manifest
) -> pl.DataFrame:
    """Stored inline readings of these brews that `readings` lacks: key, revision, and sheet and line of the new row.

    Only a file never seen before can take a reading back: an older copy read again must not undo a newer one. A
    reading counts as inline where it was stored from the very row that its brew was stored from.
    """
    if unit.mended or unit.sha256 in draft.head.originals or "readings" not in base.tables:
        return pl.DataFrame(schema={**replaced_schema("readings"), "sheet": pl.String(), "line": pl.Int64()})
    here = rows.select("brew_id", *WHERE).lazy()
    brews = current(draft.store, base, "brews").select("brew_id", *PLACE).join(here.select("brew_id"), on="brew_id")
    inline = current(draft.store, base, "readings").select(*KEY, "revision", *PLACE)
    stored = inline.join(brews, on=["brew_id", *PLACE], how="semi").select(*KEY, "revision").collect()
    gone = stored.join(readings.select(KEY), on=KEY, how="anti", nulls_equal=True)
    return gone.join(rows.select("brew_id", *WHERE), on="brew_id")
