"""One row per grinder. Key: `grinder_id`."""

from __future__ import annotations

from schemas.table import Table

GRINDERS = Table(
    name="grinders",
    row="grinder",
    key=("grinder_id",),
    column_names=("grinder_id", "name", "finer_is", "step_um", "dial", "notes"),
    required=("grinder_id",),
)
