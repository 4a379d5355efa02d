"""One row per attribute that a panel judges. Key: `attribute`."""

from __future__ import annotations

from schemas.table import Table, narrow

ATTRIBUTES = Table(
    name="attributes",
    row="attribute",
    key=("attribute",),
    column_names=("attribute", "kind", "low", "high", "better", "notes"),
    required=("attribute", "kind"),
    narrowed=(
        narrow("kind", choices=("intensity", "quality", "liking", "just_right"), meaning="What the scale measures"),
    ),
)
