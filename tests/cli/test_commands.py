"""Commands that take in, list, look after and show, on a small project folder, as a user types them."""

from __future__ import annotations

import json
import re
from datetime import datetime, timedelta
from pathlib import Path
from xml.etree import ElementTree

import openpyxl
import pytest
from small_log import LOG, NOW

from pipeline.cli.app import run


def test_ingest_prints_counts_the_sum_stubs_and_what_to_do_next(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", "160")
    folder = tmp_path / "my lab"
    run(["new", str(folder)])
    (tmp_path / "brews.csv").write_text(LOG)
    capsys.readouterr()

    assert run(["ingest", str(tmp_path / "brews.csv"), "--lab", str(folder), *NOW]) == 0

    said = capsys.readouterr().out
    header = said.splitlines()[0].split()
    names = ["rows_read", "taken_in", "already_known", "set_aside", "blank", "revised"]
    assert header == ["file", "table", *names]
    assert said.splitlines()[1].split()[-6:] == ["10", "9", "0", "1", "0", "0"]
    assert "10 rows read = 9 taken in + 0 already known + 1 set aside + 0 blank" in said
    assert "Made 2 coffees: =cmd, ostrin" in said
    assert "Made 1 grinder: bench; still to say: which way the dial runs (finer_is)" in said
    assert f"brewtrials set-aside --lab '{folder}'" in said


def test_ingest_again_is_nothing_new(lab: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["ingest", str(lab.parent / "grinders.csv"), "--lab", str(lab), *NOW]) == 0

    said = capsys.readouterr().out
    assert "1 row read = 0 taken in + 1 already known + 0 set aside + 0 blank" in said
    assert "Nothing new: the project folder already had all of this." in said


def test_strict_leaves_with_3_and_a_refused_file_with_1(lab: Path, capsys: pytest.CaptureFixture[str]) -> None:
    bad, more = lab.parent / "bad.xlsx", lab.parent / "more-brews.csv"
    bad.write_bytes(b"PK\x03\x04 no workbook")
    more.write_text(LOG.replace("b-", "c-"))

    assert run(["ingest", str(more), "--lab", str(lab), "--strict", *NOW]) == 3
    assert run(["ingest", str(more), str(bad), "--lab", str(lab), "--strict", *NOW]) == 1
    assert "bad.xlsx:\n  Refused: " in capsys.readouterr().out


def test_ingest_json_is_json_whatever_happens(lab: Path, capsys: pytest.CaptureFixture[str]) -> None:
    bad = lab.parent / "bad.xlsx"
    bad.write_bytes(b"PK\x03\x04 no workbook")

    assert run(["ingest", str(bad), str(lab.parent / "brews.csv"), "--lab", str(lab), "--json", *NOW]) == 1

    report = json.loads(capsys.readouterr().out)
    by_file = {Path(entry["file"]).name: entry for entry in report["files"]}
    assert by_file["bad.xlsx"]["refused"]
    assert by_file["brews.csv"]["already_known"] == 9


def test_set_aside_says_where_what_why_and_what_to_try(lab: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["set-aside", "--lab", str(lab)]) == 0

    said = " ".join(capsys.readouterr().out.split())
    assert "brews.csv" in said
    assert "line 11" in said
    assert "dose_g = =15" in said
    assert "not_a_number" in said
    assert "1 row." in said


@pytest.mark.parametrize("form", ["csv", "xlsx"])
def test_a_row_mended_in_the_export_goes_in_and_leaves_the_list(
    lab: Path, form: str, capsys: pytest.CaptureFixture[str]
) -> None:
    out = lab.parent / f"mend.{form}"
    assert run(["set-aside", "--lab", str(lab), "--out", str(out)]) == 0
    if form == "csv":
        text = out.read_text()
        assert ",'=15," in text
        out.write_text(text.replace(",'=15,", ",15,"))
    else:
        book = openpyxl.load_workbook(out)
        sheet = book.worksheets[0]
        (cell,) = [cell for row in sheet.iter_rows() for cell in row if cell.value == "=15"]
        cell.value = 15
        book.save(out)

    assert run(["ingest", str(out), "--lab", str(lab), *NOW]) == 0
    capsys.readouterr()

    run(["set-aside", "--lab", str(lab)])
    assert capsys.readouterr().out == "Nothing is set aside.\n"
    run(["query", "select dose_g from brews where brew_id = 'b-10'", "--lab", str(lab), "--format", "json"])
    assert json.loads(capsys.readouterr().out) == [{"dose_g": 15.0}]


def test_rows_with_the_same_fault_are_listed_together(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", "160")
    run(["new", str(tmp_path / "lab")])
    (tmp_path / "brews.csv").write_text(LOG.replace(",bench,22,15,", ",bench,22,l5,"))
    run(["ingest", str(tmp_path / "brews.csv"), "--lab", str(tmp_path / "lab"), *NOW])
    capsys.readouterr()

    assert run(["set-aside", "--lab", str(tmp_path / "lab")]) == 0

    captured = capsys.readouterr()
    # Dial 22 with a dose of 15 stands in b-01, b-04 and b-07, which are lines 2, 5 and 8; line 11 has =15 instead.
    assert captured.out.count("dose_g = l5") == 1
    assert re.search(r"^lines 2, 5, 8 +not_a_number", captured.out, re.MULTILINE)
    assert re.search(r"^line 11 ", captured.out, re.MULTILINE)
    assert "4 rows." in captured.out
    assert "brewtrials set-aside --out set-aside.xlsx --lab" in captured.err


def test_rows_of_two_files_with_one_name_are_listed_and_counted_apart(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    run(["new", str(tmp_path / "lab")])
    for week, id_start in (("week-1", "b-"), ("week-2", "c-")):
        (tmp_path / week).mkdir()
        log = tmp_path / week / "brews.csv"
        log.write_text("\n".join(LOG.splitlines()[:2]).replace(",15,250,", ",l5,250,").replace("b-", id_start))
        run(["ingest", str(log), "--lab", str(tmp_path / "lab"), *NOW])
    capsys.readouterr()

    assert run(["set-aside", "--lab", str(tmp_path / "lab")]) == 0
    said = capsys.readouterr().out
    assert said.count("dose_g = l5") == 2
    assert "2 rows." in said


def test_names_that_the_shell_took_apart_are_put_together(
    lab: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(lab.parent)
    Path("march log.csv").write_text(LOG)

    assert run(["ingest", "grinders.csv", "march", "log.csv", "--lab", str(lab)]) == 1

    assert capsys.readouterr().err == (
        'There is no march, but there is "march log.csv". Names with spaces stand in quotes.\n'
    )


def test_the_method_is_said_once_for_logs_that_lack_it(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    folder = tmp_path / "lab"
    (tmp_path / "log.csv").write_text("Date,Coffee,Dose (g),Yield (g),TDS %\n2026-05-01,ostrin,18,36,9.5\n")
    run(["new", str(folder)])
    assert run(["ingest", str(tmp_path / "log.csv"), "--lab", str(folder), *NOW]) == 1

    assert run(["new", str(folder), "--method", "espresso"]) == 0
    assert run(["ingest", str(tmp_path / "log.csv"), "--lab", str(folder), *NOW]) == 0

    assert "1 row read = 1 taken in" in capsys.readouterr().out
    run(["query", "select method, extraction_yield_pct from brew_facts", "--lab", str(folder), "--format", "json"])
    # 36 g at 9.5 % from 18 g, percolation: 36 * 9.5 / 18 = 19 %
    assert json.loads(capsys.readouterr().out) == [{"method": "espresso", "extraction_yield_pct": pytest.approx(19)}]


def test_flags_as_json(lab: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["flags", "--lab", str(lab), "--format", "json"]) == 0

    records = json.loads(capsys.readouterr().out)
    assert all("rule" in record and "brew_id" in record for record in records)


def test_the_dashboard_is_written_where_asked(lab: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = lab.parent / "page"

    assert run(["dashboard", "--lab", str(lab), "--out", str(out)]) == 0

    assert f"Wrote {out / 'index.html'}. Beside it: effects.html and measurement.html." in capsys.readouterr().out
    assert "<!doctype html>" in (out / "index.html").read_text()[:100].lower()


def test_a_page_is_not_written_over_a_file(lab: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["dashboard", "--lab", str(lab), "--out", str(lab / "lab.toml")]) == 1
    assert "lab.toml is a file. Name a folder for the page." in capsys.readouterr().err


def test_history_lists_what_came_when(lab: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["history", "--lab", str(lab), "--json"]) == 0

    first, second = json.loads(capsys.readouterr().out)
    assert (first["number"], first["set_aside"], first["added"]["brews"]) == (1, 1, 9)
    assert [Path(name).name for name in second["files"]] == ["grinders.csv"]
    assert "T" in second["written_at"]
    assert datetime.fromisoformat(second["written_at"]).utcoffset() == timedelta(0)

    assert run(["history", "--lab", str(lab)]) == 0
    assert "9 brews" in capsys.readouterr().out


def test_verify_finds_a_flipped_bit(lab: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["verify", "--lab", str(lab)]) == 0
    assert capsys.readouterr().out.startswith("Intact: 2 manifests, ")
    damaged = max((lab / "store" / "data").iterdir(), key=lambda path: path.stat().st_size)
    content = bytearray(damaged.read_bytes())
    content[len(content) // 2] ^= 1
    damaged.write_bytes(content)

    assert run(["verify", "--lab", str(lab)]) == 1
    assert damaged.name in capsys.readouterr().out
    (original, *_) = (lab / "store" / "originals").iterdir()
    original.unlink()
    assert run(["verify", "--lab", str(lab)]) == 1
    # The name of an original is 64 digits: it stands whole on one line.
    assert f"original store/originals/{original.name}: It is missing" in capsys.readouterr().out
    assert run(["gate", "--lab", str(lab), *NOW]) == 3
    assert "hashes intact" in capsys.readouterr().out


def test_sweep_takes_left_overs_only(lab: Path, capsys: pytest.CaptureFixture[str]) -> None:
    left_over = lab / "store" / "data" / f"{'0' * 16}.parquet"
    left_over.write_bytes(b"half")

    assert run(["sweep", "--lab", str(lab), "--dry-run"]) == 0
    assert "Would remove" in capsys.readouterr().out
    assert left_over.exists()
    assert run(["sweep", "--lab", str(lab)]) == 0
    assert not left_over.exists()
    assert run(["verify", "--lab", str(lab)]) == 0


def test_the_gate_tells_each_check_and_leaves_with_3(lab: Path, capsys: pytest.CaptureFixture[str]) -> None:
    junit = lab.parent / "gate.xml"

    assert run(["gate", "--lab", str(lab), "--json", "--junit", str(junit), *NOW]) == 3

    report = json.loads(capsys.readouterr().out)
    results = {check["name"]: check["result"] for check in report["checks"]}
    assert results == {
        "hashes_intact": "pass",
        "enough_brews": "pass",
        "little_set_aside": "fail",
        "fresh_enough": "not asked",
        "targets_met": "not asked",
    }
    assert ElementTree.parse(junit).getroot().attrib["failures"] == "1"

    settings = (lab / "lab.toml").read_text()
    settings = settings.replace("max_set_aside = 0", "max_set_aside = 1").replace(
        "# max_age_days = 7", "max_age_days = 7"
    )
    (lab / "lab.toml").write_text(settings)
    assert run(["gate", "--lab", str(lab), *NOW]) == 0
    assert "The gate is met." in capsys.readouterr().out
    assert run(["gate", "--lab", str(lab), "--now", "2026-05-20"]) == 3
    assert "The gate is not met: fresh enough." in capsys.readouterr().out


def test_the_template_comes_with_its_next_step(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["template", str(tmp_path / "log.xlsx")]) == 0

    assert "brewtrials ingest" in capsys.readouterr().out
    assert "brews" in openpyxl.load_workbook(tmp_path / "log.xlsx").sheetnames
