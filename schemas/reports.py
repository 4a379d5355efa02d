"""Names and order of the columns that say what became of rows: reasons, set-aside rows, flags, facts, effects."""

from __future__ import annotations

import polars as pl

from schemas.contracts.brews import BREWS

REASON_SCHEMA = {
    "line": pl.Int64(),
    "table": pl.String(),
    "column": pl.String(),
    "value": pl.String(),
    "rule": pl.String(),
    "message": pl.String(),
    "fix": pl.String(),
}
"""Why a row is not taken in, one row per (row, reason); `line` ties it to the row of the sheet."""

SET_ASIDE_COLUMNS = ("source_file", "sheet", "line", "table", "column", "value", "rule", "message", "fix", "row_json")
"""One row per (row, reason)."""

FLAG_COLUMNS = (*SET_ASIDE_COLUMNS, "brew_id")
"""One row per (row, reason); the row is kept."""

DERIVED_FACT_COLUMNS = (
    "coffee_name",
    "roast_level",
    "days_off_roast",
    "n_readings",
    "tds_pct",
    "tds_sd_pct",
    "tds_u_pct",
    "cup_tds_pct",
    "dissolved_g",
    "extraction_yield_pct",
    "extraction_yield_u_pct",
    "u_note",
    "extraction_yield_dry_pct",
    "balance_used",
    "water_ratio",
    "beverage_ratio",
    "total_water_ratio",
    "retained_g",
    "retained_ratio",
    "grind_steps_finer",
    "grind_zero",
    "grind_reference_note",
    "grind_um_finer",
    "channeled",
    "in_target_recipe",
    "in_target_cup",
    "in_target",
    "is_void",
    "brewed_on",
    "brewed_at_is_date",
    "grind_dial",
    "source_file",
    "sheet",
    "line",
    "extraction_yield_df",
    "extraction_yield_k",
    "extraction_yield_expanded_u_pct",
    "main_uncertainty",
    "correction_note",
    "planned_water_ratio",
    "planned_beverage_ratio",
)
FACT_COLUMNS = (*BREWS.column_names, *DERIVED_FACT_COLUMNS)
"""`brew_facts`: one row per brew, sorted by `brewed_at`, then `run_order`, then `line`, then `brew_id`."""

EFFECT_COLUMNS = (
    "response",
    "term",
    "unit",
    "step",
    "per",
    "estimate",
    "std_error",
    "df",
    "low",
    "high",
    "p_value",
    "n_brews",
    "n_coffees",
    "model",
    "dropped",
    "effect_note",
)
