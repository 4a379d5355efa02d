"""One row per reading of one sample. Key: `brew_id`, `instrument_id`, `sample_no`, `reading_no`."""

from __future__ import annotations

from schemas.table import Table, narrow

READINGS = Table(
    name="readings",
    row="reading",
    key=("brew_id", "instrument_id", "sample_no", "reading_no"),
    column_names=(
        "brew_id",
        "instrument_id",
        "sample_no",
        "reading_no",
        "tds_pct",
        "reading_scale",
        "sample_temp_c",
        "sample_filtered",
        "served_as",
        "read_by",
        "read_at",
    ),
    required=("brew_id", "reading_no", "tds_pct"),
    parents=(("brew_id", "brews"), ("instrument_id", "instruments")),
    narrowed=(narrow("tds_pct", low=None, above=0),),
)
