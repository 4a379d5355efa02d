"""One row per coffee. Key: `coffee_id`."""

from __future__ import annotations

from schemas.table import Table

COFFEES = Table(
    name="coffees",
    row="coffee",
    key=("coffee_id",),
    column_names=(
        "coffee_id",
        "name",
        "origin",
        "process",
        "variety",
        "roast_level",
        "roasted_on",
        "moisture_pct",
        "notes",
    ),
    required=("coffee_id",),
)
