"""Rows with a fault that keeps them out: one or more of every hard rule, as they happen at a bench."""

from __future__ import annotations

from demo_brew import Row
from demo_plant import SURPLUS, Tables

BREWS, READINGS = "2026-03-brews.csv", "2026-03-readings.csv"
SLIPS = (
    ("espresso", "dose_g", "", "empty_required", "nobody wrote the dose down"),
    ("espresso", "dose_g", "eighteen", "not_a_number", "a word for a number"),
    ("pour_over", "brewed_at", "2026-02-30T10:40", "not_a_date", "no such day"),
    ("batch_brew", "brewed_at", "2026-03-29T02:30", "no_such_time", "the clocks went forward; 12:30 was meant"),
    ("espresso", "discarded", "perhaps", "not_yes_or_no", "neither yes nor no"),
    ("espresso", "channeling", "lots", "not_in_list", "an own word for severe"),
    ("espresso", "dose_g", "0.0", "not_positive", "the scale was zeroed with the basket on it"),
    ("espresso", "beverage_g", "-36.4", "too_low", "the cup was lifted off the scale"),
    ("pour_over", "water_temp_c", "199.4", "too_high", "Fahrenheit in a column of Celsius"),
    ("pour_over", "beverage_g", "", "missing_mass", "the server was never weighed"),
    ("immersion", "water_g", "", "missing_mass", "the kettle was never weighed"),
    ("pour_over", "method", "other", "balance_unknown", "a new dripper, filed under other"),
    ("pour_over", "brewed_at", "2062-03-20T10:30", "in_the_future", "two digits swapped"),
    ("espresso", "pressure_bar", "inf", "not_finite", "the logger wrote inf when its gauge was unplugged"),
    ("espresso", "run_order", "3.5", "not_a_whole_number", "squeezed in between two brews"),
)
"""Method of the brew to copy, the column that goes wrong, what is written there, the rule, the story."""


def like(tables: Tables, file: str, method: str, number: int, brew_id: str) -> tuple[Row, Row]:
    """A copy of the `number`-th brew of a method in a file under a new id, and the row it was copied from."""
    source = [row for row in tables.rows[file] if row["method"] == method and row["brew_id"][:2] != "XB"][number]
    return {**source, "brew_id": brew_id, "study_id": "slips", "notes": "typed from a paper slip"}, source


def plant_slips(tables: Tables) -> None:
    """Brews typed from paper slips, each with one fault."""
    for number, (method, column, value, rule, note) in enumerate(SLIPS, start=1):
        row, source = like(tables, BREWS, method, number, f"XB-{number:02d}")
        row[column] = value
        tables.put(BREWS, row, after=source)
        tables.plant(row, column, rule, note)


def plant_clash_swap_ragged(tables: Tables) -> None:
    """Two rows under one id, water and beverage swapped, and an unquoted comma."""
    row, source = like(tables, BREWS, "espresso", 20, "XB-16")
    other = {**row, "beverage_g": f"{float(row['beverage_g']) + 1.3:.1f}"}
    for clash in (other, row):
        tables.put(BREWS, clash, after=source)
        tables.plant(clash, "brew_id", "key_clash", "two shots under one id")
    row, source = like(tables, BREWS, "pour_over", 20, "XB-17")
    row["water_g"], row["beverage_g"] = row["beverage_g"], row["water_g"]
    tables.put(BREWS, row, after=source)
    tables.plant(row, "beverage_g", "beverage_exceeds_water", "water and beverage swapped")
    row, source = like(tables, BREWS, "pour_over", 22, "XB-18")
    ragged = tables.put(BREWS, {**row, SURPLUS: "Mirel"}, after=source)
    tables.plant(ragged, "", "ragged_row", "a comma without quotes")
    for number in ("1", "2"):
        reading = {"brew_id": "XB-18", "instrument_id": "lens-1", "sample_no": "1", "reading_no": number}
        orphan = tables.put(READINGS, {**reading, "tds_pct": "1.41"})
        tables.plant(orphan, "brew_id", "unknown_id", "its brew is itself set aside")


def plant_readings(tables: Tables) -> None:
    """Readings that cannot be: each one comes on top of the true readings of its brew."""
    cone = next(row["brew_id"] for row in tables.rows[BREWS] if row["method"] == "pour_over")
    shared = {"brew_id": cone, "instrument_id": "lens-1", "sample_no": "3", "reading_no": "1"}
    for changes, column, rule, note in (
        ({"reading_no": "1", "tds_pct": ""}, "tds_pct", "empty_required", "looked, but not written down"),
        ({"reading_no": "2", "tds_pct": "0.00"}, "tds_pct", "not_positive", "read on the water of the zero check"),
        ({"reading_no": "3", "tds_pct": "141"}, "tds_pct", "too_high", "decimal point lost"),
        ({"reading_no": "4", "tds_pct": "14.1"}, "tds_pct", "yield_too_high", "decimal point one place off"),
        ({"reading_no": "4.5", "tds_pct": "1.41"}, "reading_no", "not_a_whole_number", "squeezed in"),
        ({"brew_id": "PO-999", "tds_pct": "1.39"}, "brew_id", "unknown_id", "no such brew"),
    ):
        row = tables.put(READINGS, {**shared, **changes})
        tables.plant(row, column, rule, note)


def plant_elsewhere(tables: Tables) -> None:
    """Faults in targets, scores, the April workbook and a guest's file."""
    target = {"target_id": "t-upside", "method": "pour_over", "quantity": "tds_pct", "low": "1.50", "high": "1.30"}
    tables.plant(tables.put("targets.csv", target), "low", "low_above_high", "the two ends swapped")
    target = {"target_id": "t-taste", "method": "pour_over", "quantity": "sweetness", "low": "5", "high": "8"}
    tables.plant(tables.put("targets.csv", target), "quantity", "not_in_list", "not a quantity with targets")
    score = {**tables.rows["tastings.csv"][0], "attribute": "taste_balance", "score": "3", "replicate": "2"}
    tables.plant(tables.put("tastings.csv", score), "score", "too_high", "off the scale")
    score = {**tables.rows["tastings.csv"][1], "score": "", "replicate": "2"}
    tables.plant(tables.put("tastings.csv", score), "score", "empty_required", "tasted, not scored")
    april = "2026-04-campaign.xlsx#brews"
    row, source = like(tables, april, "espresso", 3, "XB-19")
    wordy = tables.put(april, {**row, "dose_g": "ca. 18"}, after=source)
    tables.plant(wordy, "dose_g", "not_a_number", "a word beside the number")
    for number, (day, grams) in enumerate((("03/04/2026", "231.0"), ("05/04/2026", "233.5")), start=1):
        guest = {
            "brew_id": f"GUEST-{number}", "brewed_at": day, "coffee_id": "ostrin", "method": "pour_over",
            "dose_g": "16.0", "water_g": "256.0", "beverage_g": grams,
        }  # fmt: skip
        tables.put("guest-brews.csv", guest)
        tables.plant(guest, "brewed_at", "ambiguous_date", "3 April or 4 March? Nothing in this file decides")


def plant_dryings(tables: Tables) -> None:
    """Two dishes of the oven's first run whose weights cannot be."""
    first = next(row for row in tables.rows["dryings.csv"] if row["brew_id"])
    dish = {**first, "dish_g": "31.350", "dish_plus_sample_g": "46.370"}
    for number, dry, rule, note in (
        ("3", "31.340", "dry_not_above_dish", "the dish was swapped for a lighter one"),
        ("4", "46.650", "dry_above_sample", "weighed with the tongs on the pan"),
    ):
        row = tables.put("dryings.csv", {**dish, "replicate": number, "dish_plus_dry_g": dry})
        tables.plant(row, "dish_plus_dry_g", rule, note)


def plant_hard(tables: Tables) -> None:
    """Everything that must be set aside."""
    plant_slips(tables)
    plant_clash_swap_ragged(tables)
    plant_readings(tables)
    plant_elsewhere(tables)
    plant_dryings(tables)
