"""The files as the lab has them: commas, tabs, semicolons, a workbook; and where each row came to stand."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

import xlsxwriter
from demo_brew import Row
from demo_plant import SURPLUS

BREW_COLUMNS = (
    "brew_id", "study_id", "recipe_id", "brewed_at", "operator", "session_id", "run_order", "coffee_id", "lot_id",
    "method", "brewer", "basket", "filter", "machine_id", "water_id", "grinder_id", "grind_setting", "scale_id",
    "dose_g", "water_g", "beverage_g", "bypass_g", "bypass_included", "bypass_before_reading", "evaporated_g",
    "water_temp_c", "brew_time_s", "first_drip_s", "pressure_bar", "channeling", "discarded", "void_reason",
    "changed", "notes",
)  # fmt: skip
READING_COLUMNS = ("brew_id", "instrument_id", "sample_no", "reading_no", "tds_pct", "sample_temp_c", "sample_filtered")
LOG_COLUMNS = (
    "Date", "Shot", "Barista", "Beans", "Mill setting", "Dose (g)", "In the cup (g)", "Brew time (mm:ss)",
    "Water temp °F", "TDS 1 (%)", "TDS 2 (%)", "Flow", "Remarks",
)  # fmt: skip


@dataclass(frozen=True)
class Form:
    """How one text file is written: its columns, and the habits of whoever writes it."""

    columns: tuple[str, ...]
    separator: str = ","
    newline: str = "\n"
    encoding: str = "utf-8"


FORMS = {
    "coffees.csv": Form(
        ("coffee_id", "name", "origin", "process", "variety", "roast_level", "roasted_on", "moisture_pct", "notes")
    ),
    "lots.csv": Form(("lot_id", "coffee_id", "roasted_on", "moisture_pct", "frozen_days", "notes")),
    "grinders.csv": Form(("grinder_id", "name", "finer_is", "step_um", "dial", "notes")),
    "instruments.csv": Form(("instrument_id", "kind", "resolution", "standard_uncertainty", "unit", "notes")),
    "calibrations.csv": Form(
        ("instrument_id", "checked_at", "check_kind", "reference_value", "observed_value", "notes")
    ),
    "attributes.csv": Form(("attribute", "kind", "low", "high", "better", "notes")),
    "targets.csv": Form(
        ("target_id", "coffee_id", "method", "recipe_id", "valid_from", "valid_to", "quantity", "low", "aim", "high",
         "note")
    ),
    "2026-03-brews.csv": Form(BREW_COLUMNS, encoding="utf-8-sig"),
    "2026-03-readings.csv": Form(READING_COLUMNS),
    "2026-03-second-lens.csv": Form(READING_COLUMNS),
    "2026-04-gauge-brews.csv": Form(
        ("brew_id", "study_id", "brewed_at", "operator", "session_id", "run_order", "coffee_id", "method", "brewer",
         "water_id", "scale_id", "dose_g", "water_g", "beverage_g", "water_temp_c", "brew_time_s")
    ),
    "2026-04-gauge-readings.csv": Form((*READING_COLUMNS, "read_by", "read_at")),
    "2026-05-04-brews-corrections.csv": Form(BREW_COLUMNS, newline="\r\n"),
    "espresso-practice-log.csv": Form(LOG_COLUMNS, ";", "\r\n", "cp1252"),
    "guest-brews.csv": Form(("brew_id", "brewed_at", "coffee_id", "method", "dose_g", "water_g", "beverage_g")),
    "servings.csv": Form(("session_id", "blind_code", "brew_id", "cup_no", "served_as")),
    "tastings.csv": Form(
        ("session_id", "brew_id", "blind_code", "assessor", "attribute", "score", "position", "replicate", "served_as"),
        "\t",
    ),
    "choices.csv": Form(
        ("test_id", "kind", "assessor", "brew_id_a", "brew_id_b", "correct", "chosen_brew_id", "question",
         "serving_order", "session_id", "replicate")
    ),
    "dryings.csv": Form(
        (
            "drying_id", "brew_id", "instrument_id", "sample_no", "replicate", "weighing_no", "is_blank", "scale_id",
            "dish_g", "dish_plus_sample_g", "dish_plus_dry_g", "dry_temp_c", "dried_at",
        )
    ),
    "fractions.csv": Form(("brew_id", "fraction_no", "start_s", "end_s", "mass_g", "tds_pct")),
    "steeps.csv": Form(("brew_id", "t_s", "tds_pct", "withdrawn_g")),
    "traces.csv": Form(("brew_id", "t_s", "beverage_g", "pressure_bar", "flow_g_s", "water_temp_c")),
}  # fmt: skip
WORKBOOK = "2026-04-campaign.xlsx"
WORKBOOK_COLUMNS = {
    "brews": (*BREW_COLUMNS, "spent_wet_g", "mood"),
    "readings": (*READING_COLUMNS, "reading_scale", "served_as"),
}
"""Sheets of the April workbook; `mood` is a column that the toolkit does not know."""
NUMERIC = (
    "run_order", "dose_g", "water_g", "beverage_g", "bypass_g", "evaporated_g", "water_temp_c", "brew_time_s",
    "spent_wet_g", "first_drip_s", "pressure_bar", "sample_no", "reading_no", "tds_pct", "sample_temp_c",
)  # fmt: skip


def write_text(path: Path, form: Form, rows: Sequence[Row]) -> dict[int, int]:
    """Write a text file; line on which each row begins, by the row's `id()`."""
    out, lines = io.StringIO(newline=""), {}
    writer = csv.writer(out, delimiter=form.separator, lineterminator="\n")
    writer.writerow(form.columns)
    for row in rows:
        lines[id(row)] = out.getvalue().count("\n") + 1
        cells = [row.get(column, "") for column in form.columns]
        if SURPLUS in row:
            cells.insert(form.columns.index("operator") + 1, row[SURPLUS])
        writer.writerow(cells)
    path.write_bytes(out.getvalue().replace("\n", form.newline).encode(form.encoding))
    return lines


def write_workbook(path: Path, sheets: dict[str, Sequence[Row]]) -> dict[int, int]:
    """Write the April workbook with typed cells; row of the sheet by the row's `id()`."""
    book, lines = xlsxwriter.Workbook(str(path)), {}
    book.set_properties({"title": "April campaign", "created": datetime(2026, 4, 30, 18, 0)})
    moment = book.add_format({"num_format": "yyyy-mm-dd hh:mm"})
    about = book.add_worksheet("About")
    about.write_string(0, 0, "April campaign, bench and bar")
    about.write_string(1, 0, "Brews and readings are on the next two sheets. Temperatures in C.")
    for name, rows in sheets.items():
        sheet = book.add_worksheet(name)
        columns = WORKBOOK_COLUMNS[name]
        sheet.freeze_panes(1, 1)
        sheet.set_column(0, len(columns) - 1, 12)
        for at, column in enumerate(columns):
            sheet.write_string(0, at, column)
        for line, row in enumerate(rows, start=2):
            lines[id(row)] = line
            for at, column in enumerate(columns):
                write_cell(sheet, line - 1, at, column, row.get(column, ""), moment)
    book.close()
    return lines


def write_cell(sheet: object, row: int, at: int, column: str, text: str, moment: object) -> None:
    """One typed cell: a number, a moment, or text; nothing where the row has nothing."""
    if not text:
        return
    if column == "brewed_at":
        sheet.write_datetime(row, at, datetime.fromisoformat(text), moment)
    elif column in NUMERIC and text.replace(".", "", 1).isdigit():
        sheet.write_number(row, at, float(text))
    else:
        sheet.write_string(row, at, text)


def write_files(folder: Path, tables: dict[str, list[Row]]) -> dict[int, tuple[str, str, int]]:
    """Write every file; (file, sheet, line) of each row by the row's `id()`."""
    folder.mkdir(parents=True, exist_ok=True)
    where = {}
    for file, form in FORMS.items():
        for row_id, line in write_text(folder / file, form, tables[file]).items():
            where[row_id] = (file, "", line)
    sheets = {name: tables[f"{WORKBOOK}#{name}"] for name in WORKBOOK_COLUMNS}
    for name, rows in sheets.items():
        lines = write_workbook(folder / WORKBOOK, sheets)
        where.update({id(row): (WORKBOOK, name, lines[id(row)]) for row in rows})
    return where
