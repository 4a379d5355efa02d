"""Text files as labs have them, each with the cells, lines and notes written out by hand."""

from __future__ import annotations

import gzip
import re
from pathlib import Path

import polars as pl
import pytest

from pipeline.sources import pieces
from pipeline.sources.model import RaggedRow, RawSheet
from pipeline.sources.open import open_source
from schemas.problem import ProblemError


def sheet_of(path: Path, content: str | bytes, **options: object) -> RawSheet:
    path.write_bytes(content.encode() if isinstance(content, str) else content)
    source = open_source(path, **options)  # type: ignore[arg-type]
    assert source.refused == ""
    (sheet,) = source.sheets
    return sheet


def refusal_of(path: Path, content: str | bytes) -> str:
    path.write_bytes(content.encode() if isinstance(content, str) else content)
    source = open_source(path)
    assert source.sheets == ()
    return source.refused


def rows_of(sheet: RawSheet) -> list[tuple[object, ...]]:
    frames = list(sheet.batches())
    return pl.concat(frames).rows() if frames else []


@pytest.fixture
def log(tmp_path: Path) -> Path:
    return tmp_path / "log.csv"


def test_a_plain_table(log: Path) -> None:
    sheet = sheet_of(log, "brew_id,dose_g,notes\n007,18.0,\n008,18.2,=1+1\n")

    assert sheet.header == ("brew_id", "dose_g", "notes")
    assert rows_of(sheet) == [(2, "007", "18.0", None), (3, "008", "18.2", "=1+1")]
    assert (sheet.rows_read, sheet.blank, sheet.ragged, sheet.notes) == (2, 0, (), ())
    assert (sheet.file, sheet.sheet, sheet.typed, sheet.time_cells) == (str(log), "", False, ())
    assert next(sheet.batches()).schema == {"line": pl.Int64, "c0": pl.String, "c1": pl.String, "c2": pl.String}


def test_the_name_and_hash_of_the_source(log: Path) -> None:
    log.write_bytes(b"abc")

    source = open_source(log, file="week 3/log.csv")

    assert source.file == "week 3/log.csv"
    # FIPS 180-2, appendix B.1: SHA-256 of "abc"
    assert source.sha256 == "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"


@pytest.mark.parametrize("separator", [",", ";", "\t", "|"])
@pytest.mark.parametrize("line_end", ["\n", "\r\n", "\r"])
def test_separators_and_line_ends(log: Path, separator: str, line_end: str) -> None:
    rows = ["Coffee;Dose (g);TDS %", "Alma;18.0;1.35", "", "Bira;18.1;1.40"]

    sheet = sheet_of(log, line_end.join(rows).replace(";", separator))

    assert sheet.header == ("Coffee", "Dose (g)", "TDS %")
    assert rows_of(sheet) == [(2, "Alma", "18.0", "1.35"), (4, "Bira", "18.1", "1.40")]
    assert (sheet.rows_read, sheet.blank) == (3, 1)


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "utf-32"])
def test_encodings_that_say_what_they_are(log: Path, encoding: str) -> None:
    sheet = sheet_of(log, "Kaffee;Temp °C\nÄthiopien – süß;93\n".encode(encoding))

    assert sheet.header == ("Kaffee", "Temp °C")
    assert rows_of(sheet) == [(2, "Äthiopien – süß", "93")]
    assert sheet.notes == ()


def test_windows_1252_is_read_and_said(log: Path) -> None:
    sheet = sheet_of(log, "Kaffee;Temp °C\nplain;92\nsüß – “x”;93\n".encode("cp1252"))

    assert sheet.header == ("Kaffee", "Temp °C")
    assert rows_of(sheet) == [(2, "plain", "92"), (3, "süß – “x”", "93")]
    assert sheet.notes == (
        "2 lines are not UTF-8 (first: line 1) and read as Windows-1252; check accents and signs there.",
    )


def test_a_log_to_which_two_programs_wrote_keeps_the_accents_of_both(log: Path) -> None:
    sheet = sheet_of(log, b"a,b\n" + "süß,1\n".encode() + "süß,2\n".encode("cp1252") + b"\x81x,3\n")

    assert rows_of(sheet) == [(2, "süß", "1"), (3, "süß", "2"), (4, "\x81x", "3")]
    assert "2 lines are not UTF-8 (first: line 3)" in sheet.notes[0]


def test_quoted_line_ends_count_as_physical_lines_and_stay_as_written(log: Path) -> None:
    sheet = sheet_of(log, 'id,notes\r\n1,"two\r\nlines"\r\n2,"a ""fine"" cup, sweet"\r\n3,x')

    assert rows_of(sheet) == [(2, "1", "two\r\nlines"), (4, "2", 'a "fine" cup, sweet'), (5, "3", "x")]


def test_cells_lose_white_space_of_every_width_around_them_and_nothing_else(log: Path) -> None:
    sheet = sheet_of(log, '  id , notes\n\u00a01\u2009, a  b \n" 2 ","\n"\n\u3000,\u202f\n')

    assert sheet.header == ("id", "notes")
    assert rows_of(sheet) == [(2, "1", "a  b"), (3, "2", None)]
    assert (sheet.rows_read, sheet.blank) == (3, 1)


def test_quotes_inside_a_cell_are_text(log: Path) -> None:
    sheet = sheet_of(log, 'id,basket\n1,58" wide\n2,7"\n')

    assert rows_of(sheet) == [(2, "1", '58" wide'), (3, "2", '7"')]


def test_a_space_before_a_quote_does_not_undo_it(log: Path) -> None:
    assert rows_of(sheet_of(log, 'id, notes\n1, "a, b"\n')) == [(2, "1", "a, b")]


def test_ragged_rows_are_kept_as_they_stood(log: Path) -> None:
    sheet = sheet_of(log, 'a,b,c\n1,2,3\n4,5\n6,7,8,9\n"x\ny",1\n6,7,8,,\n,,,\n')

    assert rows_of(sheet) == [(2, "1", "2", "3")]
    assert sheet.ragged == (
        RaggedRow(3, ("4", "5")),
        RaggedRow(4, ("6", "7", "8", "9")),
        RaggedRow(5, ("x\ny", "1")),
        RaggedRow(7, ("6", "7", "8", "", "")),
    )
    assert (sheet.rows_read, sheet.blank) == (6, 1)


@pytest.mark.parametrize("others", ["", "1,18.5,36,,\n2,18.5,36,,\n"])
def test_a_decimal_comma_among_commas_does_not_push_its_row_along(log: Path, others: str) -> None:
    sheet = sheet_of(log, f"id,dose,out,water,notes\n{others}3,18,5,36,,\n")

    assert [row.cells for row in sheet.ragged] == [("3", "18", "5", "36", "", "")]
    assert len(rows_of(sheet)) == others.count("\n")


def test_separators_at_the_end_of_every_row_are_no_cells(log: Path) -> None:
    sheet = sheet_of(log, "a,b\n1,2,,\n3,,,\n4,5,,6\n7,8\n9,10,,\n")

    assert sheet.header == ("a", "b")
    assert rows_of(sheet) == [(2, "1", "2"), (3, "3", None), (5, "7", "8"), (6, "9", "10")]
    assert sheet.ragged == (RaggedRow(4, ("4", "5", "", "6")),)


def test_unnamed_columns_are_left_out_when_empty_and_numbered_when_not(log: Path) -> None:
    sheet = sheet_of(log, "a,,b,,\n1,,2,,\n3,,4,x,\n")

    assert sheet.header == ("a", "b", "column 4")
    assert rows_of(sheet) == [(2, "1", "2", None), (3, "3", "4", "x")]


def test_lines_above_the_header_are_skipped_and_said(log: Path) -> None:
    sheet = sheet_of(log, "# exported 2026-04-03, by hand\nSpring log;;\n\nCoffee;Dose\nAlma;18,0\n")

    assert sheet.header == ("Coffee", "Dose")
    assert rows_of(sheet) == [(5, "Alma", "18,0")]
    assert sheet.notes == ("2 lines above the header were left out, first line 1: '# exported 2026-04-03, by hand'.",)


def test_a_declared_separator_is_believed(log: Path) -> None:
    sheet = sheet_of(log, "sep=;\nCoffee, green;Dose\nAlma;18,0\n")

    assert sheet.header == ("Coffee, green", "Dose")
    assert rows_of(sheet) == [(3, "Alma", "18,0")]


def test_the_callers_score_finds_the_header(log: Path) -> None:
    content = "site,north,room 2\noperator,kim,2\nCoffee,Dose,TDS\nAlma,18,1.35\n"

    assert sheet_of(log, content).header == ("site", "north", "room 2")
    assert sheet_of(log, content, is_header=lambda cells: sum(cell in {"Dose", "TDS"} for cell in cells)).header == (
        "Coffee",
        "Dose",
        "TDS",
    )


def test_a_wrapped_header_is_one_line(log: Path) -> None:
    assert sheet_of(log, 'id,"Dose\n(g)"\n1,18\n').header == ("id", "Dose (g)")


def test_a_header_without_rows_is_no_refusal(log: Path) -> None:
    sheet = sheet_of(log, "a,b\n")

    assert (sheet.header, sheet.rows_read, rows_of(sheet)) == (("a", "b"), 0, [])
    assert sheet.notes == ("There are no rows below the header.",)


def test_a_packed_log_reads_like_the_log(tmp_path: Path) -> None:
    sheet = sheet_of(tmp_path / "log.csv.gz", gzip.compress(b"a;b\n1;2\n"))

    assert rows_of(sheet) == [(2, "1", "2")]


@pytest.mark.parametrize(
    ("content", "reason"),
    [
        ("", "The file is empty."),
        (gzip.compress(b""), "The file is empty."),
        ("\n \n\t\n", "The file holds nothing but blank lines."),
        ("just one column\nof words\n", "No header row was found"),
        ("1,2\n3,4\n", "No header row was found"),
        ("2026-04-03,18.0\n", "No header row was found"),
        (
            "TDS,id,TDS,x,x,TDS\n1,2,3,4,5,6\n",
            "The header names a column more than once: 'TDS' in columns 1, 3 and 6; 'x' in columns 4 and 5.",
        ),
        ("a,b\n" + "1,2\n" * 400 + "3,\0\n", "Line 402 holds NUL bytes"),
        (b"a,b\n\0\1\2\3\4", "It is not text"),
        ('a,b\n1,2\n3,"open\n4,5\n', "Line 3: a quote opens here and is never closed."),
        ('a,b\n1,"x\ny" z\n', "Line 2: a quote opens here and closes in the middle of a cell on line 3."),
        ('a,b\n1,"fine"\n3,"open\n4,"5"\n', "Line 3: a quote opens here and closes in the middle of a cell on line 4."),
        ('"a,b\n1,2\n', "Line 1: a quote opens here and is never closed."),
        ("a,b\n1,2\n".encode("utf-16")[:-1], "Its UTF-16 text is damaged or cut short."),
        (",".join(f"c{n}" for n in range(1001)) + "\n", "The header has 1,001 columns; 1,000 is the most"),
    ],
)
def test_what_cannot_be_read_is_refused_with_a_sentence(log: Path, content: str | bytes, reason: str) -> None:
    assert refusal_of(log, content).startswith(reason)


def test_a_packed_log_that_is_cut_short_or_damaged(log: Path) -> None:
    packed = gzip.compress(b"a,b\n" + b"".join(b"%d,%d\n" % (n, n * n) for n in range(5000)))

    assert refusal_of(log, packed[:-9]) == "The packed file is cut short. Copy it again and hand it in."
    assert refusal_of(log, packed[:400] + b"\xff" * 30 + packed[430:]).startswith("The packed file is damaged.")
    assert refusal_of(log, gzip.compress(packed)).startswith("It is a packed file inside a packed file.")


def test_a_packed_log_that_swells_beyond_reason_is_refused(log: Path) -> None:
    reason = refusal_of(log, gzip.compress(b"a,b\n" + b"1,2\n" * 20_000_000))

    assert re.match(r"It unpacks to more than 6\d MB from 7\d kB, which no log does\.", reason)


def test_too_many_ragged_rows_mean_a_wrong_reading(log: Path) -> None:
    reason = refusal_of(log, "a,b,c\n" + "1,2,3\n" * 200 + "1,2\n" * 100_001)

    assert reason.startswith(
        "More than 100,000 rows have another number of cells than the header, the first at line 202"
    )


def test_a_row_longer_than_a_block_is_refused(log: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(pieces, "BLOCK_BYTES", 100)

    assert refusal_of(log, 'a,b\n1,"' + "\n" * 300 + '"\n').startswith("Line 2: a cell or line longer than 16 MB")


def test_batches_are_bounded_and_lines_run_on(log: Path) -> None:
    content = "id,notes\n" + "".join(f"{n},cup {n}\n" for n in range(450_000))

    sheet = sheet_of(log, content)
    frames = list(sheet.batches())

    assert max(frame.height for frame in frames) <= 200_000
    whole = pl.concat(frames)
    assert whole["line"].to_list() == list(range(2, 450_002))
    assert whole["c1"].to_list() == [f"cup {n}" for n in range(450_000)]


def test_a_file_that_changes_between_passes_is_noticed(log: Path) -> None:
    sheet = sheet_of(log, "a,b\n1,2\n")
    log.write_text("a,b\n1,2\n3,4\n")

    with pytest.raises(ProblemError, match="changed while it was being read"):
        next(sheet.batches())


def test_a_path_that_cannot_be_opened(tmp_path: Path) -> None:
    assert open_source(tmp_path / "gone.csv").refused == "It cannot be opened: No such file or directory."
    assert open_source(tmp_path).refused == "It cannot be opened: Is a directory."
