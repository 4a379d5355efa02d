"""The committed demo lab: regenerated to the byte, small, and with its faults where the truth table says they are."""

from __future__ import annotations

import csv
import io
import json
import subprocess
import sys
from collections import Counter
from pathlib import Path

import openpyxl
import pytest

from schemas.contracts import TABLES
from schemas.rules import HARD, RULES

DEMO = Path(__file__).parents[2] / "data" / "demo"
FILES = DEMO / "files"
SEPARATORS = {"tastings.csv": "\t", "espresso-practice-log.csv": ";"}
LOG_HEADERS = {"dose_g": "Dose (g)"}


@pytest.fixture(scope="module")
def truth() -> dict:
    return json.loads((DEMO / "truth.json").read_text(encoding="utf-8"))


def text_of(name: str) -> str:
    encoding = "cp1252" if name == "espresso-practice-log.csv" else "utf-8-sig"
    return (FILES / name).read_bytes().decode(encoding)


def rows_of(name: str) -> dict[int, dict[str, str]]:
    """Rows of a text file by the physical line on which they begin."""
    reader = csv.reader(io.StringIO(text_of(name), newline=""), delimiter=SEPARATORS.get(name, ","))
    header, rows, begins = next(reader), {}, reader.line_num + 1
    for cells in reader:
        rows[begins] = dict(zip(header, cells, strict=False)) | {"": str(len(cells) - len(header))}
        begins = reader.line_num + 1
    return rows


def sheet_rows(name: str, sheet: str) -> dict[int, dict[str, str]]:
    book = openpyxl.load_workbook(FILES / name)
    rows = list(book[sheet].iter_rows(values_only=True))
    return {
        line: {header: "" if value is None else str(value) for header, value in zip(rows[0], row, strict=True)}
        for line, row in enumerate(rows[1:], start=2)
    }


def same_value(found: str, planted: str) -> bool:
    """Equal as text, or as numbers where a workbook holds 141 for the text 141.0."""
    try:
        return float(found) == float(planted)
    except ValueError:
        return found == planted


def test_the_committed_files_are_what_the_script_writes(tmp_path: Path) -> None:
    subprocess.run([sys.executable, "-B", DEMO / "make_demo.py", "--out", tmp_path], check=True)

    made = {path.relative_to(tmp_path): path.read_bytes() for path in tmp_path.rglob("*") if path.is_file()}
    assert len(made) >= 20
    assert {path for path in made if not (DEMO / path).exists()} == set()
    assert [str(path) for path, data in made.items() if (DEMO / path).read_bytes() != data] == []
    kept = {path.relative_to(DEMO) for path in FILES.iterdir()}
    assert kept == {path for path in made if path.parts[0] == "files"}


def test_the_demo_lab_is_small() -> None:
    assert sum(path.stat().st_size for path in DEMO.rglob("*") if path.is_file()) < 1_000_000


def test_the_lab_has_the_coffees_kit_and_people_it_should(truth: dict) -> None:
    def count(name: str) -> int:
        return len(rows_of(name))

    assert (count("coffees.csv"), count("lots.csv"), count("grinders.csv")) == (6, 4, 3)
    assert Counter(row["kind"] for row in rows_of("instruments.csv").values()) == {
        "refractometer": 2,
        "scale": 3,
        "oven": 1,
    }
    assert {row["finer_is"] for row in rows_of("grinders.csv").values()} == {"lower", "higher"}
    assert len(truth["operator_level_points"]) == 4
    assert len(truth["brews_by_method"]) >= 5
    assert 280 <= sum(truth["brews_by_method"].values()) <= 340


def test_every_brew_of_the_truth_table_stands_in_the_files(truth: dict) -> None:
    march = [row["brew_id"] for row in rows_of("2026-03-brews.csv").values()]
    april = [row["brew_id"] for row in sheet_rows("2026-04-campaign.xlsx", "brews").values()]
    planned = {brew_id for brew_id in march + april if not brew_id.startswith("XB")}
    planned |= {row["brew_id"] for row in rows_of("2026-04-gauge-brews.csv").values()}
    practised = len(rows_of("espresso-practice-log.csv")) - 2  # a pasted row and a mistyped one
    assert len(planned) + practised == sum(truth["brews_by_method"].values())


def test_every_hard_rule_is_planted(truth: dict) -> None:
    planted = {fault["rule"] for fault in truth["planted"] if fault["severity"] == "hard"}
    assert planted == {rule.name for rule in HARD}


def test_every_planted_fault_names_a_rule_and_sits_where_it_says(truth: dict) -> None:
    misplaced = []
    for fault in truth["planted"]:
        assert fault["rule"] in RULES
        rows = sheet_rows(fault["file"], fault["sheet"]) if fault["sheet"] else rows_of(fault["file"])
        row = rows[fault["line"]]
        column = LOG_HEADERS.get(fault["column"], fault["column"]) if "Dose (g)" in row else fault["column"]
        here = row.get("brew_id", "") == fault["brew_id"]
        if not here or (column in row and column and not same_value(row[column], fault["value"])):
            misplaced.append(fault)
    assert misplaced == []


def test_the_ragged_row_really_has_a_cell_too_many(truth: dict) -> None:
    (fault,) = [fault for fault in truth["planted"] if fault["rule"] == "ragged_row"]
    rows = rows_of(fault["file"])
    assert rows[fault["line"]][""] == "1"
    assert sum(row[""] != "0" for row in rows.values()) == 1


def test_the_correction_file_revises_one_row_and_repeats_the_rest(truth: dict) -> None:
    (revision,) = truth["revised"]
    march = {row["brew_id"]: row for row in rows_of("2026-03-brews.csv").values()}
    later = {row["brew_id"]: row for row in rows_of(revision["file"]).values()}
    differing = {brew_id for brew_id, row in later.items() if row != march[brew_id]}
    assert differing == {revision["brew_id"]}
    assert march[revision["brew_id"]][revision["column"]] == revision["was"]
    assert later[revision["brew_id"]][revision["column"]] == revision["now"]
    assert len(later) - 1 == truth["already_known"][revision["file"]]


def test_the_practice_log_is_in_its_own_words() -> None:
    first, *rows = text_of("espresso-practice-log.csv").split("\r\n")[:-1]
    assert "Water temp °F" in first.split(";")
    assert not set(first.split(";")) & set(TABLES["brews"].column_names)
    assert all(row.split(";")[0].endswith(".4.2026") for row in rows)
    assert all("." not in "".join(row.split(";")[4:11]) for row in rows)


def test_one_operator_and_finer_grinds_channel_more() -> None:
    shots = [row for row in rows_of("2026-03-brews.csv").values() if row["brew_id"].startswith("ES")]
    shots += [row for row in sheet_rows("2026-04-campaign.xlsx", "brews").values() if row["brew_id"].startswith("ES")]
    seen = [row for row in shots if row["channeling"]]

    def share(rows: list[dict[str, str]]) -> float:
        return sum(row["channeling"] != "none" for row in rows) / len(rows)

    prone = [row for row in seen if row["operator"] == "Perrik"]
    others = [row for row in seen if row["operator"] != "Perrik"]
    assert share(prone) > 1.5 * share(others)
