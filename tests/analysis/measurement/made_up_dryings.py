"""Rows of oven worksheets for the tests of drying."""

from __future__ import annotations

from datetime import UTC, datetime

import polars as pl

from schemas.contracts import TABLES
from schemas.dtypes import frame_schema

SCHEMA = frame_schema(list(TABLES["dryings"].columns.values()))
FINE = {"instrument_id": "fine", "resolution": 0.0001, "standard_uncertainty": 0.0002}
AT = datetime(2026, 3, 2, 17, 30, tzinfo=UTC)


def instruments(*rows):
    """Instruments table of these scales; the fine one if none is given."""
    schema = {"instrument_id": pl.String, "resolution": pl.Float64, "standard_uncertainty": pl.Float64}
    return pl.DataFrame(list(rows or (FINE,)), schema=schema)


def dish(brew_id, replicate, empty_g, full_g, *after_g, **more):
    """The rows of one dish; its own weights stand on the first row only."""
    rows = []
    for number, after in enumerate(after_g, start=1):
        row = dict.fromkeys(SCHEMA) | {
            "brew_id": brew_id,
            "instrument_id": "oven-1",
            "drying_id": "r1",
            "replicate": replicate,
            "weighing_no": number,
            "scale_id": "fine",
            "dish_plus_dry_g": after,
            "dry_temp_c": 105.0,
            "dried_at": AT,
        }
        if number == 1:
            row |= {"dish_g": empty_g, "dish_plus_sample_g": full_g}
        rows.append(row | more)
    return rows


def worksheet(*dishes):
    """All rows as a frame of the contract's columns."""
    return pl.DataFrame([row for rows in dishes for row in rows], schema=SCHEMA)


def brews(**methods):
    """Brews by id with their method."""
    return pl.DataFrame(
        {"brew_id": list(methods), "method": list(methods.values())}, schema={"brew_id": pl.String, "method": pl.String}
    )
