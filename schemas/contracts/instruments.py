"""One row per instrument. Key: `instrument_id`."""

from __future__ import annotations

from schemas.table import Table, narrow

INSTRUMENTS = Table(
    name="instruments",
    row="instrument",
    key=("instrument_id",),
    column_names=("instrument_id", "kind", "resolution", "standard_uncertainty", "unit", "notes"),
    required=("instrument_id",),
    narrowed=(
        narrow(
            "kind", choices=("refractometer", "scale", "thermometer", "oven"), meaning="What the instrument measures"
        ),
    ),
)
