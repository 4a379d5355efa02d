"""The fill-in workbook: every table and column, honest notes, working drop-downs, examples that hang together."""

from __future__ import annotations

import json
from datetime import UTC, datetime
from pathlib import Path

import openpyxl
import pytest

from pipeline.template import write_template
from pipeline.template_examples import EXAMPLES
from pipeline.template_notes import header_note
from schemas.contracts import TABLES
from schemas.problem import ProblemError


@pytest.fixture(scope="module")
def book(tmp_path_factory: pytest.TempPathFactory) -> openpyxl.Workbook:
    path = tmp_path_factory.mktemp("template") / "fill-in.xlsx"
    write_template(path)
    return openpyxl.load_workbook(path)


def rules_by_header(sheet: object) -> dict[str, object]:
    """Data validation of each column by its header."""
    found = {}
    for rule in sheet.data_validations.dataValidation:
        for block in rule.sqref.ranges:
            for position in range(block.min_col, block.max_col + 1):
                found[sheet.cell(1, position).value] = rule
    return found


def test_first_the_read_me_then_a_sheet_per_table(book: openpyxl.Workbook) -> None:
    assert book.sheetnames == ["Read me", *TABLES]
    assert all(sheet.sheet_state == "visible" for sheet in book)


@pytest.mark.parametrize("name", TABLES)
def test_headers_are_the_contract_and_each_carries_its_note(book: openpyxl.Workbook, name: str) -> None:
    table, sheet = TABLES[name], book[name]
    headers = sheet[1]
    assert [cell.value for cell in headers] == list(table.column_names)
    for cell in headers:
        column = table.columns[cell.value]
        assert column.meaning in cell.comment.text
        assert ("MUST" in cell.comment.text) == (cell.value in table.required)
    assert sheet.freeze_panes == "B2"


@pytest.mark.parametrize("name", TABLES)
def test_required_headers_are_darker(book: openpyxl.Workbook, name: str) -> None:
    fills = {cell.value: cell.fill.start_color.rgb for cell in book[name][1]}
    required = {fills[column] for column in TABLES[name].required}
    optional = {fill for column, fill in fills.items() if column not in TABLES[name].required}
    assert len(required) == 1
    assert not required & optional


@pytest.mark.parametrize("name", TABLES)
def test_choices_and_booleans_drop_down_and_ids_stay_text(book: openpyxl.Workbook, name: str) -> None:
    rules, sheet = rules_by_header(book[name]), book[name]
    for position, (column_name, column) in enumerate(TABLES[name].columns.items(), start=1):
        letter = openpyxl.utils.get_column_letter(position)
        style = sheet.column_dimensions[letter]
        if column.kind == "choice":
            assert rules[column_name].formula1 == f'"{",".join(column.choices)}"'
        if column.kind == "boolean":
            assert rules[column_name].formula1 == '"yes,no"'
        if column.kind == "text":
            assert style.number_format == "@"
        if column.kind in ("number", "integer"):
            assert rules[column_name].errorStyle == "warning"


def test_excel_limits_are_kept(book: openpyxl.Workbook) -> None:
    for sheet in book:
        for rule in sheet.data_validations.dataValidation:
            assert len(rule.error) <= 255
            assert len(rule.errorTitle) <= 32
            assert rule.type != "list" or len(rule.formula1) <= 255
        assert all(cell.comment is None or len(cell.comment.text) < 1000 for row in sheet for cell in row)


def test_brews_offer_the_ids_of_the_other_sheets(book: openpyxl.Workbook) -> None:
    rules = rules_by_header(book["brews"])
    assert rules["coffee_id"].formula1 == "coffees!$A$2:$A$1001"
    assert rules["scale_id"].formula1 == "instruments!$A$2:$A$1001"
    assert rules["coffee_id"].errorStyle == "information"  # a new id may be typed


def test_the_read_me_says_how_to_be_rid_of_the_examples_and_carries_the_cautions(book: openpyxl.Workbook) -> None:
    words = " ".join(str(row[0].value) for row in book["Read me"].iter_rows() if row[0].value)
    for must in ("Delete every example row", "400 mg a day", "EFSA 2015", "pressurised", "ovens", "hygiene"):
        assert must in words


@pytest.mark.parametrize("name", TABLES)
def test_examples_are_marked_and_fill_what_is_required(name: str) -> None:
    table = TABLES[name]
    for example in EXAMPLES[name]:
        assert set(example) <= set(table.column_names)
        assert set(table.required) <= set(example)
        assert any(str(example[column]).startswith("example-") for column in table.key if column in example)
        assert not table.one_of or any(all(column in example for column in group) for group in table.one_of)
        for column_name, value in example.items():
            assert not table.columns[column_name].choices or value in table.columns[column_name].choices


@pytest.mark.parametrize("name", TABLES)
def test_example_ids_refer_to_each_other(name: str) -> None:
    for column, parent in TABLES[name].parents:
        known = {example[TABLES[parent].key[0]] for example in EXAMPLES[parent]}
        assert {example[column] for example in EXAMPLES[name] if column in example} <= known


def test_the_note_states_unit_limits_choices_and_need() -> None:
    brews = TABLES["brews"]
    assert header_note(brews, brews.columns["dose_g"]).split("\n") == [
        "Dry ground coffee put in.",
        "Write a number, in g.",
        "Not taken in unless more than 0.",
        "Usually 5 to 1000.",
        "MUST be filled in.",
    ]
    note = header_note(brews, brews.columns["channeling"])
    assert "One of: none, slight, severe." in note
    assert note.endswith("May stay empty.")


def test_the_same_release_writes_the_same_bytes(tmp_path: Path) -> None:
    write_template(tmp_path / "a.xlsx")
    write_template(tmp_path / "b.xlsx")
    assert (tmp_path / "a.xlsx").read_bytes() == (tmp_path / "b.xlsx").read_bytes()


def test_an_existing_file_another_ending_and_a_missing_folder_are_refused(tmp_path: Path) -> None:
    (tmp_path / "mine.xlsx").write_text("my work")
    for name, words in (("mine.xlsx", "exists already"), ("mine.csv", ".xlsx"), ("no/mine.xlsx", "no folder")):
        with pytest.raises(ProblemError, match=words):
            write_template(tmp_path / name)
    assert (tmp_path / "mine.xlsx").read_text() == "my work"


def test_the_template_as_written_ingests_with_nothing_set_aside(lab, tmp_path: Path) -> None:
    path = tmp_path / "fill-in.xlsx"
    write_template(path)

    report = lab.ingest(path)

    taken = {entry.sheet: entry.taken_in for entry in report.entries if not entry.skipped}
    assert taken == {name: len(EXAMPLES[name]) for name in TABLES}
    assert report.set_aside == 0
    assert not report.refused
    assert report.stubs == ()
    assert "Read me" in json.dumps(report.to_json())  # said to hold no table, not passed over in silence


def test_a_filled_in_row_keeps_its_leading_zeros_and_its_local_time(lab, tmp_path: Path) -> None:
    path = tmp_path / "fill-in.xlsx"
    write_template(path)
    book = openpyxl.load_workbook(path)
    brews, headers = book["brews"], [cell.value for cell in book["brews"][1]]
    brews.delete_rows(2, 2)
    mine = {"brew_id": "007", "brewed_at": datetime(2026, 4, 3, 8, 5), "coffee_id": "0012", "method": "pour_over"}
    for column, value in {**mine, "dose_g": 15.2, "beverage_g": 221, "grind_setting": "2.50"}.items():
        brews.cell(2, headers.index(column) + 1, value)
    for name in TABLES:
        if name != "brews":
            del book[name]
    book.save(path)

    report = lab.ingest(path)

    (row,) = lab.current("brews").iter_rows(named=True)
    assert report.set_aside == 0
    assert (row["brew_id"], row["coffee_id"], row["grind_setting"]) == ("007", "0012", "2.50")
    assert row["brewed_at"] == datetime(2026, 4, 3, 8, 5, tzinfo=UTC)
    assert [(stub.table, stub.id) for stub in report.stubs] == [("coffees", "0012")]
