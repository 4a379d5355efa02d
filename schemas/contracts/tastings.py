"""One row per score. Key: `session_id`, `brew_id`, `coffee_id`, `blind_code`, `assessor`, `attribute`, `replicate`."""

from __future__ import annotations

from schemas.table import Table

TASTINGS = Table(
    name="tastings",
    row="score",
    key=("session_id", "brew_id", "coffee_id", "blind_code", "assessor", "attribute", "replicate"),
    column_names=(
        "session_id",
        "brew_id",
        "coffee_id",
        "blind_code",
        "assessor",
        "attribute",
        "score",
        "position",
        "replicate",
        "served_as",
        "milk_g",
        "cup_temp_c",
        "notes",
    ),
    required=("assessor", "attribute", "score"),
    parents=(("brew_id", "brews"), ("coffee_id", "coffees")),
    one_of=(("brew_id",), ("coffee_id",), ("session_id", "blind_code")),
)
