from __future__ import annotations

import csv
import io
import json
from datetime import UTC, date, datetime
from decimal import Decimal
from pathlib import Path

import openpyxl
import polars as pl
import pytest
from hypothesis import given
from hypothesis import strategies as st
from polars.testing import assert_frame_equal

from pipeline.exports import (
    choose_format,
    escape_cell,
    export,
    replace_file,
    unescape_cell,
    write_frame,
)
from schemas.problem import ProblemError

FRAME = pl.DataFrame(
    {
        "brew_id": ["007", "=1+1", "plain, with comma"],
        "dose_g": [-1.5, float("nan"), float("inf")],
        "run_order": [1, None, -3],
        "brewed_at": [
            datetime(2026, 7, 1, 6, 30, tzinfo=UTC),
            None,
            datetime(2026, 1, 1, 6, 30, 0, 250_000, tzinfo=UTC),
        ],
        "roasted_on": [date(2026, 6, 20), None, None],
        "channeled": [True, False, None],
    }
)


def written(frame: pl.DataFrame, form: str, timezone: str = "Europe/Vienna") -> bytes:
    buffer = io.BytesIO()
    write_frame(frame, form, buffer, timezone=timezone)  # type: ignore[arg-type]
    return buffer.getvalue()


# The first six are the starts that libraries.md lists; the doubled apostrophes keep the way back unambiguous.
@pytest.mark.parametrize("text", ["=cmd", "+1", "-2", "@x", "\tx", "\rx", "'=x", "''+y"])
def test_a_cell_that_looks_like_a_formula_gets_an_apostrophe(text: str) -> None:
    assert escape_cell(text) == "'" + text


@pytest.mark.parametrize("text", ["", "plain", "'quoted'", " =x", "1-2"])
def test_other_cells_stay_as_they_are(text: str) -> None:
    assert escape_cell(text) == text


@given(st.text(alphabet="'=+-@\t\rab 1", max_size=6))
def test_escaping_can_always_be_taken_back(text: str) -> None:
    assert unescape_cell(escape_cell(text)) == text


@given(st.lists(st.text(alphabet="'=+-@\t\rab, \"\n", max_size=5), min_size=1, max_size=5))
def test_the_csv_escapes_every_cell_as_escape_cell_does(texts: list[str]) -> None:
    content = written(pl.DataFrame({"value": texts}), "csv").decode()

    rows = list(csv.reader(io.StringIO(content, newline="")))[1:]

    assert [row[0] if row else "" for row in rows] == [escape_cell(text) for text in texts]


def test_numeric_columns_are_not_escaped_and_nothing_infinite_gets_out() -> None:
    rows = list(csv.DictReader(io.StringIO(written(FRAME, "csv").decode())))

    assert [row["dose_g"] for row in rows] == ["-1.5", "", ""]
    assert [row["run_order"] for row in rows] == ["1", "", "-3"]
    assert [row["brew_id"] for row in rows] == ["007", "'=1+1", "plain, with comma"]


def test_a_header_out_of_a_query_is_escaped_too() -> None:
    assert written(pl.DataFrame({"=1+1": [2]}), "csv") == b"'=1+1\n2\n"


def test_times_are_iso_in_the_labs_zone() -> None:
    rows = list(csv.DictReader(io.StringIO(written(FRAME, "csv").decode())))

    # Vienna is at +02:00 in July and at +01:00 in January.
    assert [row["brewed_at"] for row in rows] == ["2026-07-01T08:30:00+02:00", "", "2026-01-01T07:30:00.250+01:00"]
    assert rows[0]["roasted_on"] == "2026-06-20"


def test_json_is_records_without_nan() -> None:
    records = json.loads(written(FRAME, "json"), parse_constant=pytest.fail)

    assert records[0] == {
        "brew_id": "007",
        "dose_g": -1.5,
        "run_order": 1,
        "brewed_at": "2026-07-01T08:30:00+02:00",
        "roasted_on": "2026-06-20",
        "channeled": True,
    }
    assert records[1]["dose_g"] is None
    assert records[1]["brew_id"] == "=1+1"


def test_an_empty_frame_is_an_empty_list() -> None:
    assert json.loads(written(FRAME.head(0), "json")) == []


def test_odd_types_of_a_query_can_be_written() -> None:
    odd = pl.DataFrame(
        {"sum": [Decimal("1.50")], "list": [[1, 2]], "bytes": [b"\x01"], "naive": [datetime(2026, 1, 2, 3, 4, 5)]}
    )

    assert json.loads(written(odd, "json")) == [
        {"sum": 1.5, "list": "[1, 2]", "bytes": "01", "naive": "2026-01-02T03:04:05"}
    ]
    assert written(odd, "csv").decode().splitlines()[1] == '1.5,"[1, 2]",01,2026-01-02T03:04:05'


def test_a_workbook_keeps_text_as_text_and_numbers_as_numbers() -> None:
    sheet = openpyxl.load_workbook(io.BytesIO(written(FRAME, "xlsx"))).active
    assert sheet is not None
    rows = list(sheet.iter_rows())

    assert [cell.value for cell in rows[0]] == FRAME.columns
    assert (rows[2][0].value, rows[2][0].data_type) == ("=1+1", "s")
    assert (rows[1][0].value, rows[1][1].value, rows[3][2].value) == ("007", -1.5, -3)
    assert rows[2][1].value is None
    assert rows[1][3].value == datetime(2026, 7, 1, 8, 30)
    assert rows[1][5].value is True


def test_the_same_frame_gives_the_same_workbook() -> None:
    assert written(FRAME, "xlsx") == written(FRAME, "xlsx")


def test_a_text_too_long_for_a_workbook_is_refused_not_cut() -> None:
    with pytest.raises(ProblemError, match=r"32,768 characters.*Use csv"):
        written(pl.DataFrame({"row_json": ["x" * 32_768]}), "xlsx")


def test_parquet_brings_the_frame_back(tmp_path: Path) -> None:
    export(FRAME, "parquet", tmp_path / "facts.parquet")

    assert_frame_equal(pl.read_parquet(tmp_path / "facts.parquet"), FRAME)


def test_the_file_name_decides_where_no_format_is_given() -> None:
    assert choose_format(None, Path("a.CSV")) == "csv"
    assert choose_format(None, Path("a.xlsx")) == "xlsx"
    assert choose_format("json", Path("a.csv")) == "json"
    assert choose_format(None, None) == "table"
    with pytest.raises(ProblemError, match="does not say which format"):
        choose_format(None, Path("a.doc"))
    with pytest.raises(ProblemError, match="yaml is not a format of this list; choose one of table, csv"):
        choose_format("yaml", None)
    with pytest.raises(ProblemError, match="parquet is not"):
        choose_format(None, Path("a.parquet"), allowed=("table", "csv"))


def test_a_write_that_fails_leaves_the_old_file_and_no_litter(tmp_path: Path) -> None:
    out = tmp_path / "facts.csv"
    out.write_text("old")

    def fail(file: object) -> None:
        raise OSError(28, "No space left on device")

    with pytest.raises(ProblemError, match=r"facts.csv was not written: No space left on device"):
        replace_file(out, fail)

    assert [path.name for path in tmp_path.iterdir()] == ["facts.csv"]
    assert out.read_text() == "old"


def test_a_missing_folder_is_named(tmp_path: Path) -> None:
    with pytest.raises(ProblemError, match=r"there is no folder .*nowhere"):
        export(FRAME, "csv", tmp_path / "nowhere" / "facts.csv")


def test_a_written_file_has_the_usual_rights(tmp_path: Path) -> None:
    (tmp_path / "plain").write_text("x")
    export(FRAME, "csv", tmp_path / "facts.csv")

    assert (tmp_path / "facts.csv").stat().st_mode == (tmp_path / "plain").stat().st_mode
