"""Workbooks as spreadsheet programs write them, and as nobody should."""

from __future__ import annotations

import io
import tracemalloc
import zipfile
from collections.abc import Callable
from datetime import date, datetime, time, timedelta
from pathlib import Path

import openpyxl
import polars as pl
import pytest
import xlsxwriter
from openpyxl.worksheet.worksheet import Worksheet

from pipeline.sources.model import RawSheet, Source
from pipeline.sources.open import open_source

MAIN = 'xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"'
STRICT = 'xmlns="http://purl.oclc.org/ooxml/spreadsheetml/main"'
CELL_HEADER = '<row r="1"><c r="A1" t="str"><v>a</v></c><c r="B1" t="str"><v>b</v></c></row>'


@pytest.fixture
def book(tmp_path: Path) -> Path:
    return tmp_path / "log.xlsx"


def written(path: Path, fill: Callable[[Worksheet], None]) -> Source:
    workbook = openpyxl.Workbook()
    sheet = workbook.active
    assert sheet is not None
    sheet.title = "Brews"
    fill(sheet)
    workbook.save(path)
    return open_source(path)


def with_sheet_xml(path: Path, data: str, *, after: str = "", namespace: str = MAIN, before: str = "") -> Source:
    """A workbook whose one sheet is exactly this XML."""
    whole = io.BytesIO()
    openpyxl.Workbook().save(whole)
    xml = f"<worksheet {namespace}>{before}<sheetData>{data}</sheetData>{after}</worksheet>"
    with zipfile.ZipFile(whole) as old, zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as new:
        for name in old.namelist():
            new.writestr(name, xml if name.startswith("xl/worksheets/") else old.read(name))
    return open_source(path)


def only(source: Source) -> RawSheet:
    assert source.refused == ""
    (sheet,) = source.sheets
    return sheet


def rows_of(sheet: RawSheet) -> list[tuple[object, ...]]:
    frames = list(sheet.batches())
    return pl.concat(frames).rows() if frames else []


def test_typed_cells_become_text(book: Path) -> None:
    def fill(sheet: Worksheet) -> None:
        sheet.append(["id", "dose", "sum", "ok", "brewed", "at", "clock", "long", "error", "share", "big"])
        sheet.append(
            [
                *["007", 18.0, 0.1 + 0.7, True, date(2026, 4, 3), datetime(2026, 4, 3, 9, 15), time(0, 28)],
                *[timedelta(hours=25, seconds=1), "#DIV/0!", 0.0135, 123456789012345],
            ]
        )
        sheet["J2"].number_format = "0.00%"
        sheet.append([" x\u00a0", 18.25, -3, False, None, None, None, None, None, None, 1e-7])

    sheet = only(written(book, fill))

    assert sheet.typed
    assert sheet.header == ("id", "dose", "sum", "ok", "brewed", "at", "clock", "long", "error", "share", "big")
    first, second = rows_of(sheet)
    assert first[:5] == (2, "007", "18", "0.7999999999999999", "true")
    assert first[5:9] == ("2026-04-03", "2026-04-03T09:15:00", "0:28:00", "25:00:01")
    assert first[9:] == ("#DIV/0!", "1.35%", "123456789012345")
    assert second == (3, "x", "18.25", "-3", "false", None, None, None, None, None, None, "0.0000001")
    assert sheet.time_cells == (6, 7)


def test_a_number_shown_with_leading_zeros_keeps_them(book: Path) -> None:
    def fill(sheet: Worksheet) -> None:
        sheet.append(["id", "dose"])
        sheet.append([7, 18])
        sheet["A2"].number_format = "000"

    assert rows_of(only(written(book, fill))) == [(2, "007", "18")]


def test_a_clock_that_spreadsheets_type_for_minutes_and_seconds(book: Path) -> None:
    with xlsxwriter.Workbook(book) as workbook:
        sheet = workbook.add_worksheet("Brews")
        sheet.write_row(0, 0, ["id", "brew time"])
        sheet.write(1, 0, "a")
        sheet.write_number(1, 1, 28 / 1440, workbook.add_format({"num_format": "h:mm"}))
        sheet.write(2, 0, "b")
        sheet.write_number(2, 1, 36.5 / 24, workbook.add_format({"num_format": "[h]:mm:ss"}))
        sheet.write(3, 0, "c")
        sheet.write_number(3, 1, 28.5 / 86400, workbook.add_format({"num_format": "mm:ss.0"}))

    sheet_read = only(open_source(book))

    assert rows_of(sheet_read) == [(2, "a", "0:28:00"), (3, "b", "36:30:00"), (4, "c", "0:00:28.5")]
    assert sheet_read.time_cells == (1,)


def test_workbooks_that_count_days_from_1904(book: Path) -> None:
    with xlsxwriter.Workbook(book, {"date_1904": True}) as workbook:
        sheet = workbook.add_worksheet()
        sheet.write_row(0, 0, ["id", "on"])
        sheet.write(1, 0, "a")
        sheet.write_datetime(1, 1, datetime(2026, 4, 3), workbook.add_format({"num_format": "d.m.yyyy"}))

    assert rows_of(only(open_source(book))) == [(2, "a", "2026-04-03")]


def test_lines_are_rows_of_the_sheet_and_blank_rows_count(book: Path) -> None:
    def fill(sheet: Worksheet) -> None:
        sheet["B2"] = "Spring log"
        sheet["B4"], sheet["C4"], sheet["D4"] = "id", "Dose\n(g)", None
        sheet["B5"], sheet["C5"] = "a", 18
        sheet["B8"], sheet["C8"], sheet["F8"] = "b", 18.5, "see page 3"
        sheet["B9"], sheet["B10"] = " ", None

    sheet = only(written(book, fill))

    assert sheet.header == ("id", "Dose (g)", "column 6")
    assert rows_of(sheet) == [(5, "a", "18", None), (8, "b", "18.5", "see page 3")]
    assert (sheet.rows_read, sheet.blank) == (4, 2)
    assert sheet.notes == ("Line 2 above the header was left out: 'Spring log'.",)


def test_hidden_empty_and_prose_sheets_are_passed_over_and_said(book: Path) -> None:
    def fill(sheet: Worksheet) -> None:
        sheet.append(["id", "dose"])
        sheet.append(["a", 18])
        parent = sheet.parent
        assert parent is not None
        for title, state in (("old", "hidden"), ("lists", "veryHidden"), ("Sheet3", "visible"), ("Read me", "visible")):
            parent.create_sheet(title).sheet_state = state
        parent["old"].append(["id", "dose"])
        parent["lists"].append(["x", "y"])
        parent["Read me"].append(["One row per brew."])

    source = written(book, fill)

    assert [(sheet.sheet, sheet.skipped) for sheet in source.sheets] == [
        ("Brews", ""),
        ("Read me", "It has no header row (two or more names side by side)."),
    ]
    assert source.notes == (
        "Sheet 'old' is hidden and was not read.",
        "Sheet 'lists' is hidden and was not read.",
        "Sheet 'Sheet3' is empty.",
    )


def test_every_visible_sheet_is_read_and_a_bad_one_is_refused_alone(book: Path) -> None:
    def fill(sheet: Worksheet) -> None:
        sheet.append(["id", "dose"])
        sheet.append(["a", 18])
        assert sheet.parent is not None
        other = sheet.parent.create_sheet("Sums")
        other.append(["TDS", "id", "TDS"])
        other.append([1, 2, 3])

    first, second = written(book, fill).sheets

    assert (first.sheet, first.refused, first.rows_read) == ("Brews", "", 1)
    assert (second.sheet, second.rows_read, list(second.batches())) == ("Sums", 0, [])
    assert second.refused.startswith("The header names a column more than once: 'TDS' in columns 1 and 3.")


def test_a_workbook_without_any_table_is_refused(book: Path) -> None:
    assert written(book, lambda sheet: None).refused == "Sheet 'Brews' is empty."
    twice = written(book, lambda sheet: sheet.append(["a", "a"]))
    assert twice.refused.startswith("Sheet 'Brews': The header names a column more than once: 'a' in columns 1 and 2.")


def test_formulas_without_a_stored_result_are_named(book: Path) -> None:
    def fill(sheet: Worksheet) -> None:
        sheet.append(["id", "dose", "sum"])
        sheet.append(["a", 18, "=B2*2"])
        sheet.append(["b", "=A1", "=B3*2"])

    sheet = only(written(book, fill))

    assert rows_of(sheet) == [(2, "a", "18", None), (3, "b", None, None)]
    assert sheet.notes == (
        "3 formulas without a stored result (first: C2) read as empty. "
        "Open the workbook in a spreadsheet program, save it and hand it in again.",
    )


def test_formulas_with_a_stored_result_are_read(book: Path) -> None:
    with xlsxwriter.Workbook(book) as workbook:
        sheet = workbook.add_worksheet()
        sheet.write_row(0, 0, ["id", "dose", "word", "none"])
        sheet.write_row(1, 0, ["a"])
        sheet.write_formula(1, 1, "=9+9", None, 18.0)
        sheet.write_formula(1, 2, '="fi"&"ne"', None, "fine")
        sheet.write_formula(1, 3, '=""', None, "")

    sheet_read = only(open_source(book))

    assert rows_of(sheet_read) == [(2, "a", "18", "fine", None)]
    assert not any("formula" in note for note in sheet_read.notes[1:])


def test_a_chart_sheet_is_passed_over_and_said(book: Path) -> None:
    with xlsxwriter.Workbook(book) as workbook:
        sheet = workbook.add_worksheet("Brews")
        sheet.write_row(0, 0, ["id", "dose"])
        sheet.write_row(1, 0, ["a", 18])
        chart = workbook.add_chart({"type": "line"})
        assert chart is not None
        chart.add_series({"values": "=Brews!$B$2:$B$2"})
        workbook.add_chartsheet("Curve").set_chart(chart)

    source = open_source(book)

    assert rows_of(only(source)) == [(2, "a", "18")]
    assert source.notes == ("Sheet 'Curve' holds a chart and was not read.",)


def test_merged_cells_and_hidden_rows_are_said(book: Path) -> None:
    def fill(sheet: Worksheet) -> None:
        sheet.append(["coffee", "dose"])
        sheet.append(["Alma", 18])
        sheet.append([None, 18.1])
        sheet.merge_cells("A2:A3")
        sheet.row_dimensions[3].hidden = True

    sheet = only(written(book, fill))

    assert rows_of(sheet) == [(2, "Alma", "18"), (3, None, "18.1")]
    assert sheet.notes == (
        "1 merged range, first at A2: only the first cell of each holds its value, the others are read as empty.",
        "1 hidden row (first: row 3) read like the others.",
    )


def test_rich_and_escaped_texts(book: Path) -> None:
    data = (
        CELL_HEADER + '<row r="2"><c r="A2" t="inlineStr"><is><r><t>fi</t></r><r><t xml:space="preserve">ne </t></r>'
        "<rPh><t>no</t></rPh></is></c><c r='B2' t='str'><v>two_x000A_lines</v></c></row>"
    )

    assert rows_of(only(with_sheet_xml(book, data))) == [(2, "fine", "two\nlines")]


@pytest.mark.parametrize(
    ("cell", "text"),
    [
        ("<v>4.3499999999999996</v>", "4.35"),
        ("<v>0.30000000000000004</v>", "0.30000000000000004"),
        ("<v>1.35E-2</v>", "0.0135"),
        ("<v>18.000</v>", "18"),
        ("<v>-0.5</v>", "-0.5"),
        ("<v>1e999</v>", "1e999"),
    ],
)
def test_numbers_keep_their_digits(book: Path, cell: str, text: str) -> None:
    source = with_sheet_xml(book, f'{CELL_HEADER}<row r="2"><c r="A2">{cell}</c></row>')

    assert rows_of(only(source)) == [(2, text, None)]


def test_cells_and_rows_without_references_and_the_strict_form(book: Path) -> None:
    data = (
        "<row><c t='str'><v>a</v></c><c t='str'><v>b</v></c></row>"
        "<row><c><v>1</v></c><c t='d'><v>2026-04-03T00:00:00</v></c></row><row/><row><c r='B4'><v>2</v></c></row>"
    )

    sheet = only(with_sheet_xml(book, data, namespace=STRICT))

    assert rows_of(sheet) == [(2, "1", "2026-04-03"), (4, None, "2")]


def test_a_cell_in_the_last_corner_costs_nothing(book: Path) -> None:
    def fill(sheet: Worksheet) -> None:
        sheet.append(["a", "b"])
        sheet.append([1, 2])
        sheet["XFD1048576"] = 5

    tracemalloc.start()
    source = written(book, fill)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()

    assert only(source).header == ("a", "b", "column 16384")
    assert rows_of(only(source)) == [(2, "1", "2", None), (1_048_576, None, None, "5")]
    assert only(source).blank == 1_048_573
    assert peak < 50 * 2**20


def test_a_sheet_that_lies_about_its_size(book: Path) -> None:
    source = with_sheet_xml(
        book, f'{CELL_HEADER}<row r="2"><c r="A2"><v>1</v></c></row>', before='<dimension ref="A1:XFD1048576"/>'
    )

    assert rows_of(only(source)) == [(2, "1", None)]
    assert only(source).rows_read == 1


@pytest.mark.parametrize(
    "data",
    [
        '<row r="2"><c r="A2"><v>1</v></c></row><row r="2"><c r="A2"><v>1</v></c></row>',
        '<row r="1048577"><c><v>1</v></c></row>',
        '<row r="1"><c r="XFE1"><v>1</v></c></row>',
        '<row r="1"><c r="A1"><v>one</v></c></row>',
        '<row r="1"><c r="A1" t="s"><v>99</v></c></row>',
        '<row r="1"><c r="A1"',
    ],
)
def test_nonsense_inside_a_workbook_is_refused(book: Path, data: str) -> None:
    reason = with_sheet_xml(book, data).refused

    assert reason.startswith(("The workbook is not built as .xlsx should be.", "The workbook is damaged or cut short."))


def test_bombs_are_refused_before_they_go_off(book: Path) -> None:
    swollen = with_sheet_xml(book, f'{CELL_HEADER}<row r="2">' + "<c/>" * 20_000_000 + "</row>")
    assert swollen.refused.startswith("The workbook would unpack to 76 MB, more than is read.")

    endless = with_sheet_xml(book, f'{CELL_HEADER}<row r="2"><c r="A2"><v>{"1" * 5_000_000}</v></c></row>')
    assert endless.refused.startswith("Sheet 'Sheet': A cell of the workbook is longer than any program writes.")

    nested = with_sheet_xml(book, f'{CELL_HEADER}<row r="2"><c r="A2">' + "<t/>" * 50_000 + "</c></row>")
    assert nested.refused.startswith("Sheet 'Sheet': A cell of the workbook is longer than any program writes.")


def test_a_text_repeated_without_end_is_refused(book: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("pipeline.sources.sheet_cells.MAX_SHEET_TEXT", 10_000)
    source = written(book, lambda sheet: [sheet.append(["x" * 100, "y" * 100]) for _ in range(100)] and None)

    assert source.refused == "Sheet 'Brews': It holds more text than is read. Save it as CSV."


def test_too_many_columns_are_refused(book: Path) -> None:
    source = written(book, lambda sheet: sheet.append([f"c{n}" for n in range(1001)]))

    assert source.refused.startswith("Sheet 'Brews': More than 1,000 columns hold something.")


def test_entities_are_not_expanded(book: Path) -> None:
    whole = io.BytesIO()
    openpyxl.Workbook().save(whole)
    bomb = '<!DOCTYPE x [<!ENTITY a "aaaaaaaaaa">' + "".join(
        f'<!ENTITY {chr(98 + n)} "{f"&{chr(97 + n)};" * 10}">' for n in range(9)
    )
    data = "<row r='1'><c r='A1' t='str'><v>&j;</v></c></row>"
    xml = f"{bomb}]><worksheet {MAIN}><sheetData>{data}</sheetData></worksheet>"
    with zipfile.ZipFile(whole) as old, zipfile.ZipFile(book, "w") as new:
        for name in old.namelist():
            new.writestr(name, xml if name.startswith("xl/worksheets/") else old.read(name))

    assert open_source(book).refused.startswith("The workbook is damaged or cut short.")


def test_long_sheets_come_in_bounded_batches(book: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("pipeline.sources.sheet_cells._FLUSH_ROWS", 7)

    def fill(sheet: Worksheet) -> None:
        sheet.append(["id", "dose", "late"])
        for number in range(50):
            sheet.append([f"b{number}", number, "x" if number == 49 else None])

    sheet = only(written(book, fill))

    assert max(frame.height for frame in sheet.batches()) <= 7
    assert rows_of(sheet) == [(n + 2, f"b{n}", str(n), "x" if n == 49 else None) for n in range(50)]


def test_a_written_list_of_set_aside_rows_reads_back(book: Path) -> None:
    rows = pl.DataFrame(
        {"source_file": ["a.csv"], "line": [12], "value": ["=1+1"], "row_json": ['{"Dose (g)": "0018", "n": "a\\nb"}']}
    )
    rows.write_excel(book, worksheet="set_aside")

    sheet = only(open_source(book))

    assert sheet.sheet == "set_aside"
    assert sheet.header == ("source_file", "line", "value", "row_json")
    assert rows_of(sheet) == [(2, "a.csv", "12", "=1+1", '{"Dose (g)": "0018", "n": "a\\nb"}')]
