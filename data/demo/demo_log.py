"""One barista's practice log: own words, semicolons, decimal commas, Fahrenheit, dates as 3.4.2026."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from demo_brew import Brewed, Row, fixed
from demo_plant import Tables

LOG = "espresso-practice-log.csv"
FLOW = {"": "", "none": "even", "slight": "spurts", "severe": "gushes"}
"""His words for channeling; `lab/columns.toml` says what they mean."""


def comma(number: str) -> str:
    """The number with a decimal comma."""
    return number.replace(".", ",")


def log_row(brewed: Brewed) -> Row:
    """One brew as Perrik writes it down."""
    row, (first, second) = brewed.row, (reading["tds_pct"] for reading in brewed.readings)
    at = datetime.fromisoformat(row["brewed_at"])
    seconds = int(row["brew_time_s"])
    return {
        "Date": f"{at.day}.{at.month}.{at.year}",
        "Shot": row["run_order"],
        "Barista": row["operator"],
        "Beans": row["coffee_id"],
        "Mill setting": comma(row["grind_setting"]),
        "Dose (g)": comma(row["dose_g"]),
        "In the cup (g)": comma(row["beverage_g"]),
        "Brew time (mm:ss)": f"{seconds // 60}:{seconds % 60:02d}",
        "Water temp °F": comma(fixed(float(row["water_temp_c"]) * 9 / 5 + 32, 1)),
        "TDS 1 (%)": comma(first),
        "TDS 2 (%)": comma(second),
        "Flow": FLOW[row["channeling"]],
        "Remarks": "",
    }


def put_log(tables: Tables, brewed: Sequence[Brewed]) -> None:
    """The practice log, with a letter for a nought and a row pasted twice."""
    for number, brew in enumerate(brewed):
        row = tables.put(LOG, log_row(brew))
        if number == 0:
            tables.plant(row, "", "time_only_day", "the log has no times", severity="soft")
        if number == 12:
            row["Remarks"] = "new basket"
        if number == 17:
            again = tables.put(LOG, dict(row))
            tables.plant(again, "", "looks_repeated", "pasted twice", severity="soft")
        if number == 21:
            typed = tables.put(LOG, {**row, "Dose (g)": "18,O", "Remarks": "letter for a nought"})
            tables.plant(typed, "dose_g", "not_a_number", "the letter O for a nought")
