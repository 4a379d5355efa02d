"""One row per roast or delivery of a coffee. Key: `lot_id`."""

from __future__ import annotations

from schemas.table import Table

LOTS = Table(
    name="lots",
    row="lot",
    key=("lot_id",),
    column_names=("lot_id", "coffee_id", "roasted_on", "moisture_pct", "frozen_days", "notes"),
    required=("lot_id", "coffee_id"),
    parents=(("coffee_id", "coffees"),),
)
