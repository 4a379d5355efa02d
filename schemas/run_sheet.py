"""The run sheet's own columns among those of the brews table, and what makes one of its rows a brew."""

from __future__ import annotations

PLANNED: dict[str, str] = {
    "planned_grind_setting": "grind_setting",
    "planned_dose_g": "dose_g",
    "planned_water_g": "water_g",
    "planned_beverage_g": "beverage_g",
    "planned_water_temp_c": "water_temp_c",
    "planned_brew_time_s": "brew_time_s",
    "planned_preinfusion_s": "preinfusion_s",
    "planned_pressure_bar": "pressure_bar",
}
"""What the sheet asked for, and the column in which it is written what was done."""
FILLED_IN = (
    *("brew_id", "study_id", "recipe_id", "operator", "site", "session_id", "run_order", "block"),
    *("coffee_id", "lot_id", "method", "brewer", "basket", "filter", "machine_id", "water_id"),
    *("grinder_id", "grind_setting", "scale_id", "instrument_id"),
    *("water_temp_c", "preinfusion_s", "pressure_bar", "discarded", "mass_balance"),
    *PLANNED,
)
"""Cells that a sheet may carry before anybody brews: alone they do not make a row a brew."""
SAME_ON_EVERY_ROW = (
    *("recipe_id", "operator", "site", "lot_id", "brewer", "basket", "filter", "machine_id", "water_id", "scale_id"),
    *("instrument_id", "mass_balance"),
)
"""Cells that a planner may fill in alike on all rows."""
PURGE = "purge after a change of grind or coffee"
"""What stands under void_reason in the row of a purge: should somebody type into it, it stays out of every analysis."""
