"""One row per cup of a blind session: its key. Key: `session_id`, `blind_code`."""

from __future__ import annotations

from schemas.table import Table

SERVINGS = Table(
    name="servings",
    row="cup",
    key=("session_id", "blind_code"),
    column_names=("session_id", "blind_code", "brew_id", "coffee_id", "cup_no", "served_as"),
    required=("session_id", "blind_code"),
    parents=(("brew_id", "brews"), ("coffee_id", "coffees")),
    one_of=(("brew_id",), ("coffee_id",)),
)
