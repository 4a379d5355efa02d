"""The run sheet: it goes straight back in as readings, hides the brews on paper, and says how to read."""

from __future__ import annotations

import csv
import io
from pathlib import Path

import numpy as np
import openpyxl
import pytest

from analysis.measurement.gauge import gauge_study
from analysis.measurement.gauge_plan import plan_gauge_study
from analysis.measurement.gauge_table import study_readings
from pipeline.gauge_sheet import SHEET_COLUMNS, write_gauge_sheet
from schemas.contracts import TABLES
from schemas.problem import ProblemError

BREWS = ("007", "b-2", "b-3", "<b>4</b>")
READERS = ("Rosa", "Sam & Co")
BREW_LOG = "brew_id,brewed_at,coffee_id,method,dose_g,beverage_g\n" + "".join(
    f"{brew},2026-04-03,sunrise,pour_over,15,230\n" for brew in BREWS
)


@pytest.fixture
def plan():
    return plan_gauge_study(BREWS, READERS, repeats=2, rng=np.random.default_rng(9))


def reading(brew: str, reader: str, k: int) -> float:
    """What an invented display shows: brews and readers differ, and no two readings of a cell are alike."""
    return round(1.30 + 0.04 * BREWS.index(brew) + 0.01 * READERS.index(reader) + 0.002 * (k % 3), 3)


def fill_csv(path: Path) -> None:
    rows = list(csv.DictReader(io.StringIO(path.read_text())))
    for k, row in enumerate(rows):
        row["tds_pct"] = str(reading(row["brew_id"], row["read_by"], k))
        row["sample_temp_c"] = "21.5"
        row["read_at"] = f"2026-04-03 10:{k:02}"
    with path.open("w", newline="") as file:
        writer = csv.DictWriter(file, rows[0])
        writer.writeheader()
        writer.writerows(rows)


def fill_workbook(path: Path) -> None:
    book = openpyxl.load_workbook(path)
    sheet = book["readings"]
    place = {cell.value: cell.column for cell in sheet[1]}
    for k, row in enumerate(range(2, sheet.max_row + 1)):
        brew, reader = (sheet.cell(row, place[name]).value for name in ("brew_id", "read_by"))
        sheet.cell(row, place["tds_pct"]).value = reading(brew, reader, k)
        sheet.cell(row, place["sample_temp_c"]).value = 21.5
        sheet.cell(row, place["read_at"]).value = f"2026-04-03 10:{k:02}"
    book.save(path)


def test_the_columns_are_those_of_the_readings_table():
    assert set(SHEET_COLUMNS) <= set(TABLES["readings"].column_names)
    assert set(TABLES["readings"].key) <= set(SHEET_COLUMNS)


@pytest.mark.parametrize(("name", "fill"), [("bench.csv", fill_csv), ("bench.xlsx", fill_workbook)])
def test_a_filled_in_sheet_goes_in_as_readings_and_comes_out_as_a_study(lab, plan, name, fill):
    path = lab.drop / name
    write_gauge_sheet(plan, path, instrument_id="r-1")
    fill(path)
    lab.put("brews.csv", BREW_LOG)

    report = lab.ingest(lab.drop)

    entry = next(entry for entry in report.entries if entry.table == "readings")
    assert (entry.rows_read, entry.taken_in, entry.set_aside, entry.unknown_columns) == (16, 16, 0, ())
    chosen = study_readings(lab.current("readings"))
    assert chosen.left_out == ()
    study = gauge_study(chosen.frame)
    assert (study.n_brews, study.n_readers, study.n_readings, study.balanced) == (4, 2, 16, True)


def test_a_reading_left_empty_is_set_aside_and_the_study_is_a_gappy_one(lab, plan):
    path = lab.drop / "bench.csv"
    write_gauge_sheet(plan, path, instrument_id="r-1")
    fill_csv(path)
    lines = path.read_text().splitlines()
    cells = lines[3].split(",")
    cells[list(SHEET_COLUMNS).index("tds_pct")] = ""
    path.write_text("\n".join([*lines[:3], ",".join(cells), *lines[4:]]) + "\n")
    lab.put("brews.csv", BREW_LOG)

    entry = next(entry for entry in lab.ingest(lab.drop).entries if entry.table == "readings")

    assert (entry.taken_in, entry.set_aside) == (15, 1)
    study = gauge_study(study_readings(lab.current("readings")).frame)
    assert (study.n_readings, study.balanced) == (15, False)
    assert study.notes[0] == "1 reading missing of 16"


def test_an_empty_sheet_has_every_planned_reading_in_order(plan, tmp_path):
    write_gauge_sheet(plan, tmp_path / "s.csv", instrument_id="r-1")
    rows = list(csv.DictReader(io.StringIO((tmp_path / "s.csv").read_text())))

    assert [(row["brew_id"], int(row["sample_no"]), row["read_by"]) for row in rows] == [
        (line.brew_id, line.vial, line.read_by) for line in plan.readings
    ]
    assert {row["tds_pct"] + row["sample_temp_c"] + row["read_at"] for row in rows} == {""}
    assert {row["instrument_id"] for row in rows} == {"r-1"}


def test_the_page_for_the_readers_names_no_brew_and_escapes_names(plan, tmp_path):
    write_gauge_sheet(plan, tmp_path / "s.html", instrument_id="<r>")
    page = (tmp_path / "s.html").read_text()

    assert not any(brew in page for brew in ("007", "b-2", "b-3", "<b>4</b>"))
    assert "Sam &amp; Co" in page
    assert "&lt;r&gt;" in page
    assert page.count("<tr>") == len(plan.readings) + plan.repeats
    assert all(f">{line.vial}</td>" in page for line in plan.readings)
    assert "<script" not in page


@pytest.mark.parametrize("name", ["s.html", "s.xlsx"])
def test_the_sheet_says_how_to_read(plan, tmp_path, name):
    write_gauge_sheet(plan, tmp_path / name, instrument_id="r-1")
    if name.endswith("xlsx"):
        text = "\n".join(str(cell.value) for row in openpyxl.load_workbook(tmp_path / name)["How to"] for cell in row)
    else:
        text = (tmp_path / name).read_text()

    for words in ("stir every brew", "filter it", "at one temperature", "on water", "within 45 min", "burn"):
        assert words in text


def test_the_same_plan_gives_the_same_bytes(plan, tmp_path):
    for suffix in (".csv", ".xlsx", ".html"):
        for name in ("a", "b"):
            write_gauge_sheet(plan, tmp_path / f"{name}{suffix}", instrument_id="r-1")
        assert (tmp_path / f"a{suffix}").read_bytes() == (tmp_path / f"b{suffix}").read_bytes()


def test_nothing_is_overwritten_and_odd_names_are_refused(plan, tmp_path):
    (tmp_path / "s.csv").write_text("filled in")

    with pytest.raises(ProblemError, match="exists already, perhaps with readings in it"):
        write_gauge_sheet(plan, tmp_path / "s.csv", instrument_id="r-1")
    with pytest.raises(ProblemError, match=r"should end in \.csv or \.xlsx"):
        write_gauge_sheet(plan, tmp_path / "s.pdf", instrument_id="r-1")
    with pytest.raises(ProblemError, match="name it as in the instruments table"):
        write_gauge_sheet(plan, tmp_path / "t.csv", instrument_id=" ")
    assert (tmp_path / "s.csv").read_text() == "filled in"


@pytest.mark.parametrize("header", ["read_by", "Read by", "Reader", "Measured by"])
def test_other_words_for_the_reader_are_understood(lab, header):
    lab.put("brews.csv", BREW_LOG)
    lab.put("readings.csv", f"brew_id,reading_no,tds_pct,{header}\nb-2,1,1.34,Rosa\n")

    lab.ingest(lab.drop)

    assert lab.current("readings")["read_by"].to_list() == ["Rosa"]
