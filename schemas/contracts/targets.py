"""One row per agreed target. Key: `target_id`."""

from __future__ import annotations

from schemas.table import Table

TARGETS = Table(
    name="targets",
    row="target",
    key=("target_id",),
    column_names=(
        "target_id",
        "coffee_id",
        "method",
        "recipe_id",
        "site",
        "valid_from",
        "valid_to",
        "quantity",
        "low",
        "aim",
        "high",
        "note",
    ),
    required=("target_id", "quantity", "low", "high"),
    parents=(("coffee_id", "coffees"),),
)
