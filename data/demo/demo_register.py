"""The lab's registers: coffees, lots, grinders, instruments, attributes, targets, and its declarations."""

from __future__ import annotations

from demo_brew import dial_text
from demo_plant import Tables
from demo_taste import attributes
from demo_world import (
    ALTITUDE_M,
    COFFEES,
    ESPRESSO,
    FOR_DRYING,
    GRINDER,
    GRINDERS,
    INSTRUMENTS,
    LOTS,
    POUR_OVER,
    TIMEZONE,
    VOLATILE_LOSS_U_PCT,
)

TARGETS = (
    ("t-espresso-yield", "", "espresso", "", "extraction_yield_pct", "18", "20", "22", "the bar's window"),
    ("t-espresso-ratio", "", "espresso", "", "beverage_ratio", "1.8", "2.05", "2.3", ""),
    ("t-brunnagh-yield", "brunnagh", "espresso", "", "extraction_yield_pct", "17", "19", "21", "dark: a little less"),
    ("t-pour-over-yield", "", "pour_over", "", "extraction_yield_pct", "19", "20.5", "22", ""),
    ("t-pour-over-strength", "", "pour_over", "", "tds_pct", "1.3", "1.4", "1.5", ""),
    ("t-house-yield", "", "batch_brew", "house-batch", "extraction_yield_pct", "19", "20", "21.5", "every morning"),
    ("t-house-strength", "", "batch_brew", "house-batch", "tds_pct", "1.25", "1.35", "1.45", "every morning"),
    ("t-press-yield", "", "immersion", "", "extraction_yield_pct", "20.5", "22.4", "24", "own balance, own window"),
)


def text(value: float | None) -> str:
    """A number as short as it can be written; nothing for nothing."""
    return "" if value is None else f"{value:g}"


def put_registers(tables: Tables) -> None:
    """Everything that other rows name."""
    for coffee in COFFEES:
        tables.put("coffees.csv", {
            "coffee_id": coffee.coffee_id, "name": coffee.name, "origin": coffee.origin, "process": coffee.process,
            "variety": coffee.variety, "roast_level": coffee.roast_level, "roasted_on": f"{coffee.roasted_on}",
            "moisture_pct": text(coffee.moisture_pct), "notes": "invented",
        })  # fmt: skip
    for lot in LOTS:
        tables.put("lots.csv", {
            "lot_id": lot.lot_id, "coffee_id": lot.coffee_id, "roasted_on": f"{lot.roasted_on}",
            "moisture_pct": text(lot.moisture_pct), "frozen_days": text(lot.frozen_days),
        })  # fmt: skip
    for grinder in GRINDERS:
        tables.put("grinders.csv", {
            "grinder_id": grinder.grinder_id, "name": grinder.name, "finer_is": grinder.finer_is,
            "step_um": text(grinder.step_um), "dial": grinder.dial,
        })  # fmt: skip
    for instrument in (*INSTRUMENTS, *FOR_DRYING):
        tables.put("instruments.csv", {
            "instrument_id": instrument.instrument_id, "kind": instrument.kind, "unit": instrument.unit,
            "resolution": text(instrument.resolution), "standard_uncertainty": text(instrument.standard_uncertainty),
        })  # fmt: skip
    for attribute in attributes():
        tables.put("attributes.csv", attribute)
    for target in TARGETS:
        names = ("target_id", "coffee_id", "method", "recipe_id", "quantity", "low", "aim", "high", "note")
        tables.put("targets.csv", {**dict(zip(names, target, strict=True)), "valid_from": "2026-03-01"})


def lab_toml() -> str:
    """The lab's declarations, with the reference dial of every coffee for espresso and pour over."""
    lines = [
        "# The demo lab's declarations; written by data/demo/make_demo.py. Everything in this lab is invented.",
        'name = "Demo lab"',
        f"altitude_m = {ALTITUDE_M}",
        f'timezone = "{TIMEZONE}"',
        "",
        "[intake]",
        'unknown_parents = "stub"',
        "",
        "[gate]",
        "min_brews = 100",
        "max_set_aside = 60",
        "",
        "[drying]",
        f"volatile_loss_u_pct = {VOLATILE_LOSS_U_PCT}",
    ]
    for model in (ESPRESSO, POUR_OVER):
        for grinder_id, dials in model.references.items():
            for coffee_id, dial in dials.items():
                lines += [
                    "",
                    "[[grind_reference]]",
                    f'coffee_id = "{coffee_id}"',
                    f'grinder_id = "{grinder_id}"',
                    f'method = "{model.method}"',
                    f'grind_setting = "{dial_text(GRINDER[grinder_id], dial)}"',
                ]
    return "\n".join(lines) + "\n"
