"""Rows that are taken in and flagged: unlikely values, missing answers, and what looks like another unit.

They sit in methods, or lack a value, that no truth of the truth table is estimated from.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from demo_brew import Row
from demo_hard import BREWS, like
from demo_plant import Tables

APRIL, APRIL_READINGS = "2026-04-campaign.xlsx#brews", "2026-04-campaign.xlsx#readings"
JAR = {
    "method": "cold_brew", "coffee_id": "tesquil", "brewer": "cold-jar", "dose_g": "60.0", "water_g": "600.0",
    "beverage_g": "492.0", "water_temp_c": "8.0", "brew_time_s": "57600", "grinder_id": "sandpiper",
    "grind_setting": "12",
}  # fmt: skip
STEEP = {
    "method": "steep_release", "coffee_id": "ostrin", "brewer": "valve-cone", "dose_g": "15.0", "water_g": "250.0",
    "beverage_g": "221.0", "water_temp_c": "93.0", "brew_time_s": "180",
}  # fmt: skip
MOKA = {
    "method": "moka", "coffee_id": "brunnagh", "brewer": "pot-3", "dose_g": "16.0", "water_g": "150.0",
    "beverage_g": "112.0", "brew_time_s": "260", "grinder_id": "plover", "grind_setting": "12.00",
}  # fmt: skip


@dataclass(frozen=True)
class Oddity:
    """One odd brew: what it is like, what differs, its readings, and what should be flagged where."""

    like: Row
    changes: Row
    tds: tuple[str, ...]
    column: str
    rule: str
    note: str
    reading: Row = field(default_factory=dict)
    in_reading: bool = False


ODDITIES = (
    Oddity(JAR, {}, ("0.0204", "0.0206"), "tds_pct", "looks_like_fraction", "a fraction typed as percent",
           in_reading=True),
    Oddity(JAR, {"beverage_g": "490.5"}, ("0.20", "0.21"), "tds_pct", "looks_tenfold", "decimal point one place off",
           in_reading=True),
    Oddity(JAR, {"beverage_g": "488.0"}, ("3.21", "3.22"), "extraction_yield_pct", "yield_beyond_soluble",
           "1 too many in front: 2.21"),
    Oddity(JAR, {"brew_time_s": "5400", "beverage_g": "497.0"}, ("0.70", "0.71"), "extraction_yield_pct",
           "yield_unusual", "poured off after an hour and a half"),
    Oddity(JAR, {"beverage_g": "487.0"}, ("2.01", "2.41"), "tds_pct", "readings_apart",
           "the second drop was not stirred"),
    Oddity(JAR, {"coffee_id": "calmuht", "grind_setting": "11"}, ("1.98", "1.97"), "coffee_id", "near_miss",
           "two letters swapped"),
    Oddity(JAR, {"water_temp_c": "64", "beverage_g": "491.5"}, ("1.96", "1.95"), "water_temp_c",
           "looks_like_fahrenheit", "the shop's thermometer reads Fahrenheit"),
    Oddity(STEEP, {"water_g": "221.0", "beverage_g": "250.0"}, ("1.40", "1.41"), "water_g", "looks_swapped",
           "water and beverage swapped"),
    Oddity(STEEP, {"water_temp_c": "103.0"}, ("1.41", "1.42"), "water_temp_c", "above_boiling", "93.0 was meant"),
    Oddity(STEEP, {"method": "boiled", "brewer": "pot", "water_temp_c": "99.0"}, ("1.55",), "evaporated_g",
           "evaporation_missing", "nobody weighed what boiled off"),
    Oddity(MOKA, {"grind_setting": "fine-ish"}, ("3.05",), "grind_setting", "dial_not_read", "a word for a dial"),
    Oddity(MOKA, {"grinder_id": "travel-mill", "grind_setting": "9"}, ("2.98",), "grinder_id", "finer_is_unknown",
           "a borrowed mill that no sheet describes"),
)  # fmt: skip


def add_readings(tables: Tables, brew_id: str, tds: tuple[str, ...], extra: Row) -> list[Row]:
    """Readings of an odd brew on lens-1."""
    return [
        tables.put(
            APRIL_READINGS,
            {"brew_id": brew_id, "instrument_id": "lens-1", "sample_no": "1", "reading_no": str(number),
             "tds_pct": value, **extra},
        )
        for number, value in enumerate(tds, start=1)
    ]  # fmt: skip


def plant_oddities(tables: Tables) -> None:
    """Odd brews of the side methods, on the last Friday of April."""
    for number, odd in enumerate(ODDITIES, start=31):
        row = {
            "brew_id": f"XB-{number}", "study_id": "bench", "brewed_at": f"2026-04-24T{9 + (number - 31) // 4:02d}:"
            f"{(number - 31) % 4 * 15:02d}", "operator": "Jonsa", "session_id": "bench-0424",
            "run_order": str(number - 30), "scale_id": "scale-bar", "water_id": "shop-tap", **odd.like, **odd.changes,
        }  # fmt: skip
        tables.put(APRIL, row)
        readings = add_readings(tables, row["brew_id"], odd.tds, odd.reading)
        tables.plant(readings[0] if odd.in_reading else row, odd.column, odd.rule, odd.note, severity="soft")


def plant_without_yield(tables: Tables) -> None:
    """Brews whose yield must stay empty: bypass without answers, a milk drink, Brix."""
    for method, brew_id, changes, tds, extra, column, rule, note in (
        ("batch_brew", "XB-51", {"bypass_g": "180"}, ("1.31",), {}, "bypass_included", "bypass_unclear",
         "hot water added, nobody wrote down when"),
        ("espresso", "XB-52", {}, ("4.10",), {"served_as": "milk"}, "tds_pct", "reading_on_milk",
         "read from the flat white"),
        ("espresso", "XB-53", {}, ("11.6",), {"reading_scale": "brix"}, "tds_pct", "brix_without_factor",
         "a Brix instrument on loan"),
    ):  # fmt: skip
        row, _ = like(tables, APRIL, method, 5, brew_id)
        brew = tables.put(APRIL, {**row, "channeling": "", **changes, "notes": note})
        readings = add_readings(tables, brew_id, tds, extra)
        tables.plant(readings[0] if column == "tds_pct" else brew, column, rule, note, severity="soft")


def plant_voids_and_repeats(tables: Tables) -> None:
    """Void records, a row pasted twice under a new id, and a shot whose water was read off wrongly."""
    for brew_id, changes, column, rule, reason in (
        ("XB-61", {"beverage_g": ""}, "beverage_g", "mass_missing", "server knocked over before weighing"),
        ("XB-62", {"beverage_g": "402.0"}, "beverage_g", "void_breaks_rule", "scale not zeroed"),
    ):
        row, source = like(tables, BREWS, "pour_over", 12, brew_id)
        planted = tables.put(BREWS, {**row, **changes, "void_reason": reason}, after=source)
        tables.plant(planted, column, rule, reason, severity="soft")
    twin = {
        **STEEP, "brew_id": "XB-63", "study_id": "bench", "brewed_at": "2026-04-24T13:00", "operator": "Jonsa",
        "session_id": "bench-0424", "scale_id": "scale-bar", "beverage_g": "219.5",
    }  # fmt: skip
    tables.put(APRIL, twin)
    again = tables.put(APRIL, {**twin, "brew_id": "XB-64"})
    for brew_id in ("XB-63", "XB-64"):
        add_readings(tables, brew_id, ("1.37", "1.38"), {})
    tables.plant(again, "brew_id", "looks_repeated", "pasted twice, then renumbered", severity="soft")
    row, _ = like(tables, APRIL, "espresso", 7, "XB-65")
    wet = tables.put(APRIL, {**row, "channeling": "", "water_g": "118.4", "notes": "water meter read after a rinse"})
    add_readings(tables, "XB-65", ("9.41", "9.44"), {})
    tables.plant(wet, "water_g", "retained_unusual", "the meter still counted a rinse", severity="soft")


def plant_soft(tables: Tables) -> None:
    """Everything that must be kept and flagged."""
    plant_oddities(tables)
    plant_without_yield(tables)
    plant_voids_and_repeats(tables)
