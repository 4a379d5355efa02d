"""The example rows of the fill-in workbook: invented, marked by their ids, and hanging together across the sheets."""

from __future__ import annotations

from datetime import datetime

Cell = str | float | datetime
Example = dict[str, Cell]
WHEN = datetime(2026, 3, 2, 9, 15)

EXAMPLES: dict[str, tuple[Example, ...]] = {
    "coffees": (
        {
            "coffee_id": "example-coffee",
            "name": "Example coffee",
            "origin": "where it grew",
            "process": "washed",
            "roast_level": "light",
            "roasted_on": datetime(2026, 2, 20),
            "moisture_pct": 1.5,
            "notes": "Example: delete this row",
        },
    ),
    "lots": (
        {
            "lot_id": "example-lot",
            "coffee_id": "example-coffee",
            "roasted_on": datetime(2026, 2, 20),
            "moisture_pct": 1.5,
            "frozen_days": 0,
            "notes": "Example: delete this row",
        },
    ),
    "grinders": (
        {
            "grinder_id": "example-grinder",
            "name": "Example grinder",
            "finer_is": "lower",
            "step_um": 25,
            "notes": "Example: delete this row",
        },
    ),
    "instruments": (
        {
            "instrument_id": "example-refractometer",
            "kind": "refractometer",
            "resolution": 0.01,
            "standard_uncertainty": 0.02,
            "unit": "%",
            "notes": "Example: delete this row",
        },
    ),
    "calibrations": (
        {
            "instrument_id": "example-refractometer",
            "checked_at": datetime(2026, 3, 2, 8, 45),
            "check_kind": "water_zero",
            "reference_value": 0,
            "observed_value": 0.01,
            "notes": "Example: delete this row",
        },
    ),
    "attributes": (
        {
            "attribute": "example-sweetness",
            "kind": "intensity",
            "low": 0,
            "high": 10,
            "better": "higher",
            "notes": "Example: delete this row",
        },
    ),
    "targets": (
        {
            "target_id": "example-target",
            "coffee_id": "example-coffee",
            "method": "pour_over",
            "valid_from": datetime(2026, 3, 1),
            "quantity": "extraction_yield_pct",
            "low": 18,
            "aim": 20,
            "high": 22,
            "note": "Example: delete this row",
        },
    ),
    "brews": (
        {
            "brew_id": "example-brew-1",
            "recipe_id": "example-recipe",
            "brewed_at": WHEN,
            "operator": "example-person",
            "session_id": "example-session",
            "run_order": 1,
            "coffee_id": "example-coffee",
            "lot_id": "example-lot",
            "method": "pour_over",
            "grinder_id": "example-grinder",
            "grind_setting": "8.5",
            "dose_g": 15,
            "water_g": 250,
            "beverage_g": 222,
            "water_temp_c": 93,
            "brew_time_s": 175,
            "channeling": "none",
            "discarded": "no",
            "notes": "Example: delete this row",
        },
        {
            "brew_id": "example-brew-2",
            "brewed_at": datetime(2026, 3, 2, 9, 40),
            "operator": "example-person",
            "session_id": "example-session",
            "run_order": 2,
            "coffee_id": "example-coffee",
            "method": "immersion",
            "dose_g": 18,
            "water_g": 270,
            "beverage_g": 236,
            "water_temp_c": 94,
            "brew_time_s": 240,
            "notes": "Example: delete this row",
        },
    ),
    "readings": (
        {
            "brew_id": "example-brew-1",
            "instrument_id": "example-refractometer",
            "sample_no": 1,
            "reading_no": 1,
            "tds_pct": 1.35,
            "reading_scale": "tds",
            "sample_temp_c": 22,
            "sample_filtered": "no",
            "served_as": "black",
            "read_by": "example-reader",
            "read_at": datetime(2026, 3, 2, 9, 25),
        },
    ),
    "servings": (
        {
            "session_id": "example-cupping",
            "blind_code": "042",
            "brew_id": "example-brew-2",
            "cup_no": 1,
            "served_as": "black",
        },
    ),
    "tastings": (
        {
            "session_id": "example-cupping",
            "blind_code": "042",
            "assessor": "example-person",
            "attribute": "example-sweetness",
            "score": 6,
            "position": 1,
            "replicate": 1,
            "served_as": "black",
            "notes": "Example: delete this row",
        },
    ),
    "choices": (
        {
            "test_id": "example-test",
            "kind": "triangle",
            "assessor": "example-person",
            "brew_id_a": "example-brew-1",
            "brew_id_b": "example-brew-2",
            "correct": "yes",
            "serving_order": "ABA",
            "session_id": "example-session",
            "replicate": 1,
        },
    ),
    "fractions": (
        {
            "brew_id": "example-brew-1",
            "fraction_no": 1,
            "start_s": 0,
            "end_s": 60,
            "mass_g": 55.5,
            "tds_pct": 3.1,
        },
    ),
    "steeps": (
        {
            "brew_id": "example-brew-2",
            "t_s": 60,
            "tds_pct": 1.05,
            "withdrawn_g": 1.5,
        },
    ),
    "traces": (
        {
            "brew_id": "example-brew-1",
            "t_s": 30,
            "beverage_g": 12.5,
            "flow_g_s": 1.4,
            "water_temp_c": 92.5,
        },
    ),
}
"""Example rows by table. `brews` has two, because a difference test compares two."""
