"""One row per check of an instrument. Key: `instrument_id`, `checked_at`, `check_kind`, `reference_value`."""

from __future__ import annotations

from schemas.table import Table

CALIBRATIONS = Table(
    name="calibrations",
    row="check",
    key=("instrument_id", "checked_at", "check_kind", "reference_value"),
    column_names=("instrument_id", "checked_at", "check_kind", "reference_value", "observed_value", "notes"),
    required=("instrument_id", "checked_at", "check_kind", "reference_value", "observed_value"),
    parents=(("instrument_id", "instruments"),),
)
