"""One row per cup of a brew caught in several cups. Key: `brew_id`, `fraction_no`."""

from __future__ import annotations

from schemas.table import Table

FRACTIONS = Table(
    name="fractions",
    row="cup",
    key=("brew_id", "fraction_no"),
    column_names=("brew_id", "fraction_no", "start_s", "end_s", "mass_g", "tds_pct"),
    required=("brew_id", "fraction_no", "mass_g", "tds_pct"),
    parents=(("brew_id", "brews"),),
)
