from __future__ import annotations

from pathlib import Path

import pytest

from pipeline.cli.ingest_words import conservation, print_report, remarks
from pipeline.ingest.report import Entry, IngestReport, Retried, Stub

LAB = Path("my lab")


def report(
    *entries: Entry, stubs: tuple[Stub, ...] = (), retried: tuple[Retried, ...] = (), committed: bool = True
) -> IngestReport:
    return IngestReport(entries, stubs, retried, manifest_number=3, committed=committed)


def test_the_sum_runs_over_all_files() -> None:
    first = Entry("a.csv", "", "brews", rows_read=1500, taken_in=1400, set_aside=90, blank=10, revised=3)
    second = Entry("b.csv", "", "brews", rows_read=5, already_known=5)

    assert conservation([first, second]) == (
        "1,505 rows read = 1,400 taken in + 5 already known + 90 set aside + 10 blank "
        "(3 of those taken in revise an earlier row)"
    )


def test_what_was_refused_or_left_alone_is_said_with_its_reason() -> None:
    lines = remarks(
        report(
            Entry("bad.xlsx", "", refused="It is no workbook."),
            Entry("log.xlsx", "Ideas", skipped="No column of it is known."),
        ),
        LAB,
    )

    assert lines[:4] == [
        "bad.xlsx:",
        "  Refused: It is no workbook.",
        "log.xlsx [Ideas]:",
        "  Left alone, it is no table: No column of it is known.",
    ]


def test_unknown_columns_and_conversions_are_named() -> None:
    entry = Entry("a.csv", "", "brews", unknown_columns=("Mood", "Sky"), notes=("Water temp °F read as Fahrenheit.",))

    lines = remarks(report(entry), LAB)

    assert lines[0] == "a.csv:"
    assert lines[1].startswith("  2 columns not known here, kept only in the original file: Mood, Sky.")
    assert lines[2] == "  Water temp °F read as Fahrenheit."


def test_stubs_say_what_they_lack_and_what_they_resemble() -> None:
    stubs = (
        Stub("grinders", "bench", ("finer_is",)),
        *(Stub("coffees", f"c{number}", ("name", "roasted_on")) for number in range(9)),
        Stub("coffees", "Ostrn", ("name", "roasted_on"), resembles="Ostrin"),
    )

    lines = remarks(report(stubs=stubs), LAB)

    assert lines[0] == "Made 1 grinder: bench; still to say: which way the dial runs (finer_is)."
    assert lines[1] == (
        "Made 10 coffees: c0, c1, c2, c3, c4, c5, c6, c7 and 2 more; still to say: the name, the roast date."
    )
    assert lines[2] == "  Ostrn looks like Ostrin, which is known; if they are the same, correct the id."
    assert lines[3] == (
        "  To say it: brewtrials template more.xlsx, fill in the sheets grinders, coffees, and ingest that file."
    )


def test_rows_tried_again_are_counted_by_what_came_of_them() -> None:
    retried = tuple(Retried("readings", "r.csv", "", line, "taken in") for line in (2, 3))

    assert "Tried again, from earlier files: 2 taken in." in remarks(report(retried=retried), LAB)


def test_the_next_step_is_a_command_to_copy() -> None:
    aside = Entry("a.csv", "", "brews", rows_read=1, set_aside=1)
    fine = Entry("a.csv", "", "brews", rows_read=1, taken_in=1)

    assert remarks(report(aside), LAB)[-1].endswith("brewtrials set-aside --lab 'my lab'")
    assert remarks(report(fine), LAB)[-1] == "See the numbers: brewtrials facts --lab 'my lab'"
    known = Entry("a.csv", "", "brews", rows_read=1, already_known=1)
    assert remarks(report(known, committed=False), LAB) == ["Nothing new: the project folder already had all of this."]


def test_a_refused_file_is_not_followed_by_numbers_that_are_not_there() -> None:
    refused = Entry("a.csv", "", refused="It has no column for method.")

    lines = remarks(report(refused), LAB)

    assert lines[-1] == (
        "1 file could not be taken in; nothing of it is lost. Do what is said above and ingest it again."
    )
    assert "brewtrials facts" not in " ".join(lines)


def test_nothing_to_read_is_not_called_known() -> None:
    empty = IngestReport((), (), (), manifest_number=0, committed=False, ignored=("notes.pdf",))

    assert remarks(empty, LAB) == [
        "Left alone: notes.pdf",
        "There was nothing to take in: no csv, tsv, txt or xlsx file among what was named.",
    ]


def test_the_project_folder_s_own_files_are_not_mentioned_and_many_others_are_counted() -> None:
    own = ("my lab/lab.toml", "my lab/columns.toml", "my lab/store/data/0a.parquet")
    others = tuple(f"my lab/photo{number}.jpg" for number in range(10))

    lines = remarks(IngestReport((), (), (), manifest_number=1, committed=False, ignored=own + others), LAB)

    assert lines[0] == "Left alone: my lab/photo0.jpg"
    assert lines[-2] == "Left alone: 2 more files without a table."


def test_one_line_per_sheet(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", "120")

    print_report(report(Entry("log.xlsx", "Brews", "brews", rows_read=12, taken_in=12)), LAB)

    lines = capsys.readouterr().out.splitlines()
    assert lines[1].split() == ["log.xlsx", "Brews", "brews", "12", "12", "0", "0", "0", "0"]


def test_files_of_one_folder_are_named_without_it(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", "120")
    noted = Entry("drop/a.csv", "", "brews", notes=("noted",))

    print_report(report(noted, Entry("drop/b.csv", "", "coffees"), Entry("drop/c.xlsx", "", refused="no")), LAB)

    lines = capsys.readouterr().out.splitlines()
    assert lines[0] == "Files in drop/:"
    assert lines[1].split()[:2] == ["file", "table"]
    assert [line.split()[0] for line in lines[2:4]] == ["a.csv", "b.csv"]
    assert lines[5:9] == ["a.csv:", "  noted", "c.xlsx:", "  Refused: no"]


def test_a_column_that_a_note_speaks_of_is_mentioned_once() -> None:
    asked = "'Yield' was not read: it could be beverage_g or the extraction yield."
    entry = Entry("a.csv", "", "brews", rows_read=1, taken_in=1, unknown_columns=("Yield", "Sky"), notes=(asked,))

    lines = remarks(report(entry), LAB)

    assert lines[1].startswith("  1 column not known here, kept only in the original file: Sky. If it matters")
    assert sum("Yield" in line for line in lines) == 1
