from __future__ import annotations

import re
from datetime import UTC, datetime

import polars as pl
import pytest

from pipeline.cli.tables import show_frame, show_rows


@pytest.fixture(autouse=True)
def _eighty_columns(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", "80")


def test_no_line_is_wider_than_the_terminal(capsys: pytest.CaptureFixture[str]) -> None:
    long = "a sentence that goes on and on and says very little by the end of it all, as sentences may"

    show_rows(("where", "what", "why"), [("brews.csv\nline 3", "dose_g = " + "x" * 50, long)])

    lines = capsys.readouterr().out.splitlines()
    assert max(map(len, lines)) <= 80
    assert set(long.split()) <= set(" ".join(lines).split())


def test_wide_frames_show_what_fits_and_say_what_was_left_out(capsys: pytest.CaptureFixture[str]) -> None:
    frame = pl.DataFrame({f"column_{n}": ["some text here"] for n in range(20)} | {"empty": [None], "dose_g": [18.0]})

    show_frame(frame, first=("dose_g",), what="brews")

    captured = capsys.readouterr()
    header, row = captured.out.splitlines()
    assert header.split()[0] == "dose_g"
    assert "empty" not in header
    assert max(len(header), len(row)) <= 80
    assert captured.err == "Shown: 5 of 22 columns. Add --out FILE.csv (or --format csv) for everything.\n"


def test_long_frames_are_cut_and_say_so(capsys: pytest.CaptureFixture[str]) -> None:
    show_frame(pl.DataFrame({"n": range(1200)}), what="brews")

    captured = capsys.readouterr()
    assert len(captured.out.splitlines()) == 501
    assert "500 of 1,200 brews" in captured.err


def test_an_empty_frame_says_so(capsys: pytest.CaptureFixture[str]) -> None:
    show_frame(pl.DataFrame({"n": []}), what="brews")

    assert capsys.readouterr().err == "No brews.\n"


def test_numbers_stand_to_the_right(capsys: pytest.CaptureFixture[str]) -> None:
    show_frame(pl.DataFrame({"brew_id": ["a", "b"], "n_readings": [5, 12]}))

    assert capsys.readouterr().out.splitlines() == ["brew_id  n_readings", "a                 5", "b                12"]


def test_times_are_the_lab_s_clock_times(capsys: pytest.CaptureFixture[str]) -> None:
    frame = pl.DataFrame({"brewed_at": [datetime(2026, 7, 1, 6, 30, tzinfo=UTC)]})

    show_frame(frame, timezone="Europe/Vienna")  # at +02:00 in July

    assert capsys.readouterr().out.splitlines()[1] == "2026-07-01 08:30"


COUNTS = ("file", "sheet", "table", "rows_read", "taken_in", "already_known", "set_aside", "blank", "revised")
COUNTED = ("Espresso log.xlsx", "Spring", "brews", "10", "2", "0", "7", "1", "0")


@pytest.mark.parametrize("columns", [120, 100, 80, 60, 40, 20])
def test_no_count_is_lost_in_a_narrow_terminal(
    columns: int, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", str(columns))

    show_rows(COUNTS, [COUNTED], right=COUNTS[3:])

    out = capsys.readouterr().out
    assert max(map(len, out.splitlines())) <= columns
    # Whatever the layout, every name and every value is there, and the numbers keep their order.
    letters = "".join(out.split())
    assert all(name in letters or all(part in letters for part in name.split("_")) for name in COUNTS)
    assert re.findall(r"\d+", out) == list(COUNTED[3:])


def test_headers_break_at_underscores_before_anything_is_left_out(capsys: pytest.CaptureFixture[str]) -> None:
    names = ("extraction_yield_pct", "extraction_yield_u_pct", "extraction_yield_dry_pct", "retained_ratio")

    show_frame(pl.DataFrame({name: [20.0, 19.5] for name in names}))

    captured = capsys.readouterr()
    assert captured.err == ""
    assert captured.out.splitlines()[-1].split() == ["19.50"] * 4


def test_a_foremost_column_without_room_is_not_made_up_for_by_others(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", "30")
    frame = pl.DataFrame({"line": [7], "brew_id": ["2026-04-03T08:10 Tom"], "coffee_name": ["Ostrin Ridge, lot 3"]})

    show_frame(frame, first=("brew_id", "coffee_name"))

    assert capsys.readouterr().out.splitlines() == ["brew_id", "2026-04-03T08:10 Tom"]


def test_numbers_of_a_column_share_their_decimals(capsys: pytest.CaptureFixture[str]) -> None:
    show_frame(pl.DataFrame({"dose_g": [18.0, 18.1, None], "water_temp_c": [93.0, 93.0, 92.0]}))

    assert capsys.readouterr().out.splitlines()[1:] == [
        "  18.0            93",
        "  18.1            93",
        "                  92",
    ]
