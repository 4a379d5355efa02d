from __future__ import annotations

from datetime import UTC, datetime

import polars as pl
import pytest

from pipeline.cli.screen import cell, harmless, say, show_frame, show_rows


@pytest.fixture(autouse=True)
def _eighty_columns(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", "80")


def test_markup_and_links_in_the_data_come_out_as_they_stand(capsys: pytest.CaptureFixture[str]) -> None:
    show_rows(("note",), [("[red]hot[/red] :coffee: [link=x]",)])

    assert capsys.readouterr().out.splitlines() == ["note", "[red]hot[/red] :coffee: [link=x]"]


def test_control_codes_in_the_data_do_not_reach_the_terminal(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("FORCE_COLOR", "1")

    show_rows(("note",), [("a\x1b[2Jb\x07",)])
    say("title \x1b]0;pwned\x07")

    out = capsys.readouterr().out
    assert "\x1b" not in out
    assert "a?[2Jb?" in out


def test_c1_controls_are_harmless_too() -> None:
    assert harmless("\x9b31m\x7f") == "?31m?"
    assert harmless("two\nlines\tö") == "two\nlines\tö"


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


@pytest.mark.parametrize(
    ("name", "value", "shown"),
    [
        ("tds_pct", 1.3, "1.30"),
        ("beverage_ratio", 2.0, "2.00"),
        ("dose_g", 18.05, "18.05"),
        ("dose_g", 18.0, "18"),
        ("channeled", True, "yes"),
        ("channeled", None, ""),
        ("brew_id", "007", "007"),
        ("brewed_at", datetime(2026, 4, 3, 9, 15, 20), "2026-04-03 09:15"),
        ("estimate", 0.0237231, "0.0237"),
        ("p_value", 0.0412, "0.041"),
        ("p_value", 1e-9, "<0.001"),
    ],
)
def test_values_read_as_people_write_them(name: str, value: object, shown: str) -> None:
    assert cell(name, value) == shown


def test_numbers_stand_to_the_right(capsys: pytest.CaptureFixture[str]) -> None:
    show_frame(pl.DataFrame({"brew_id": ["a", "b"], "n_readings": [5, 12]}))

    assert capsys.readouterr().out.splitlines() == ["brew_id  n_readings", "a                 5", "b                12"]


def test_times_are_the_lab_s_clock_times(capsys: pytest.CaptureFixture[str]) -> None:
    frame = pl.DataFrame({"brewed_at": [datetime(2026, 7, 1, 6, 30, tzinfo=UTC)]})

    show_frame(frame, timezone="Europe/Vienna")  # at +02:00 in July

    assert capsys.readouterr().out.splitlines()[1] == "2026-07-01 08:30"
