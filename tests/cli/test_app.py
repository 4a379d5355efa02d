from __future__ import annotations

import json
import os
import re
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from pipeline.cli import app as app_module
from pipeline.cli.app import app, run
from schemas.problem import ProblemError

COMMANDS = (
    "new", "template", "ingest", "set-aside", "flags", "facts", "query", "effects", "study", "compare", "predict",
    "budget", "plan", "power", "instruments", "dashboard", "verify", "sweep", "history", "gate", "gauge", "cupping",
)  # fmt: skip
BREWTRIALS = Path(sys.executable).with_name("brewtrials")


def registered() -> list[str]:
    return [str(one.name) for one in (*app.registered_commands, *app.registered_groups)]


def test_the_commands_are_those_of_the_contract() -> None:
    assert registered() == list(COMMANDS)


def test_the_help_lists_every_command_and_every_exit_code(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["--help"]) == 0

    said = capsys.readouterr().out
    for command in COMMANDS:
        assert re.search(rf"^  {command} +\w.*[.?]$", said, re.MULTILINE), command
    assert "Exit codes: 0 fine; 1 failed" in said


@pytest.mark.parametrize("command", COMMANDS)
def test_every_command_explains_itself_without_programmers_words(
    command: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run([command, "--help"]) == 0

    said = capsys.readouterr().out
    assert len(said.splitlines()) > 5
    assert not re.search(r"<\w|\[x>=|None|list\[", said)


def test_no_command_at_all_shows_the_help(capsys: pytest.CaptureFixture[str]) -> None:
    assert run([]) == 2

    captured = capsys.readouterr()
    assert captured.out.startswith("Usage: brewtrials")
    assert "Commands:" in captured.out
    assert captured.err == ""


@pytest.mark.parametrize(
    ("args", "said"),
    [
        (["gait"], "No such command 'gait'. Did you mean 'gate'?"),
        (["ingest", "--lab", "x"], "brewtrials ingest: which files? Name them, or a folder of them, such as log.xlsx."),
        (["facts"], "brewtrials facts: which project folder? Add --lab DIR, or set BREWTRIALS_LAB to it."),
        (["facts", "--lab", "x", "--as-of", "-1"], "--as-of: -1 is not the number of an ingest"),
        (["facts", "--lab", "x", "--as-of", "two"], "two is not the number of an ingest; `brewtrials history` lists"),
        (["facts", "--lab", "x", "--fromat", "csv"], "there is no option --fromat; did you mean --format?"),
        (["facts", "--lab", "my", "lab"], "too many words: lab. Names and questions with spaces in them stand in"),
        (["query", "--lab", "x"], "which question? Give one SELECT in quotes"),
        (["dashboard", "--lab", "x"], "where to? Add --out DIR, the folder for the page."),
        (["template"], "which file? Name the workbook to write, such as log.xlsx."),
        (["new"], "which folder? Name the project folder to make, such as my-lab."),
        (["new", "LAB", "--method", "expresso"], "expresso is not one of espresso, pour_over"),
        (["gate", "--lab", "LAB", "--now", "noon"], "noon is not a time; write it like 2026-04-03"),
        (["ingest", "x", "--lab", "LAB", "--table", "brew"], "brew is not a table; choose one of"),
        (["facts", "--lab", "LAB", "--format", "yaml"], "yaml is not one of table, csv, json, xlsx, parquet"),
        (["effects", "--lab", "LAB", "--step", "water_temp_c"], "write COLUMN=SIZE, such as water_temp_c=2"),
    ],
)
def test_a_command_not_understood_leaves_with_2_and_says_how_it_is_used(
    args: list[str], said: str, tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delenv("BREWTRIALS_LAB", raising=False)
    run(["new", str(tmp_path)])
    capsys.readouterr()

    assert run([str(tmp_path) if arg == "LAB" else arg for arg in args]) == 2

    captured = capsys.readouterr()
    assert said in captured.err
    assert "How it is used: brewtrials" in captured.err
    assert captured.out == ""


@pytest.mark.parametrize("command", [["history"], ["facts"], ["gate"], ["verify"], ["ingest", "x.csv"]])
def test_a_folder_that_is_no_lab_is_refused_with_the_command_to_make_one(
    command: list[str], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run([*command, "--lab", str(tmp_path)]) == 1

    captured = capsys.readouterr()
    assert captured.err == f"{tmp_path} is not a project folder: it has no lab.toml. " + (
        f"Make one with: brewtrials new {tmp_path}\n"
    )
    assert list(tmp_path.iterdir()) == []


def test_the_environment_stands_in_for_lab(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    run(["new", str(tmp_path / "lab")])
    monkeypatch.setenv("BREWTRIALS_LAB", str(tmp_path / "lab"))

    assert run(["history"]) == 0
    assert "Nothing has been taken in yet." in capsys.readouterr().out


def fail_with(error: BaseException, monkeypatch: pytest.MonkeyPatch) -> int:
    def broken(**_: object) -> int:
        raise error

    monkeypatch.setattr(app_module, "app", broken)
    return run(["facts"])


def test_a_problem_is_one_sentence(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    assert fail_with(ProblemError("The log has no rows. Hand in another."), monkeypatch) == 1
    assert capsys.readouterr().err == "The log has no rows. Hand in another.\n"


JSON_ASKED = (
    ["ingest", "no-such-file", "--json"],
    *(["verify", "--json"], ["history", "--json"], ["gate", "--json"]),
    ["query", "select 1", "--format", "json"],
    *([name, "--format", "json"] for name in ("facts", "effects", "flags", "set-aside", "budget", "instruments")),
    ["gauge", "--study", "s", "--format=json"],
)


@pytest.mark.parametrize("command", JSON_ASKED, ids=lambda command: command[0])
def test_a_program_that_asked_for_json_gets_the_problem_as_json(
    command: list[str], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run([*command, "--lab", str(tmp_path / "none")]) == 1

    captured = capsys.readouterr()
    problem = json.loads(captured.out)["error"]
    assert problem.startswith(f"{tmp_path / 'none'} does not exist.")
    assert captured.err == problem + "\n"


def test_a_command_not_understood_is_told_as_json_too(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["ingest", "--lab", "x", "--json"]) == 2
    assert "which files?" in json.loads(capsys.readouterr().out)["error"]


def test_people_get_no_json(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["facts", "--format", "csv", "--lab", str(tmp_path / "none")]) == 1
    assert capsys.readouterr().out == ""


def test_a_fault_of_ours_says_so_and_shows_no_traceback(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.delenv("BREWTRIALS_DEBUG", raising=False)

    assert fail_with(KeyError("dose_g"), monkeypatch) == 1

    said = capsys.readouterr().err
    assert said.startswith("This is a fault in brewtrials, not in your files (KeyError: 'dose_g').")
    assert "BREWTRIALS_DEBUG=1" in said
    assert "Traceback" not in said


def test_debugging_shows_the_traceback(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    monkeypatch.setenv("BREWTRIALS_DEBUG", "1")

    assert fail_with(KeyError("dose_g"), monkeypatch) == 1
    assert "Traceback (most recent call last)" in capsys.readouterr().err


def test_a_full_disk_is_named(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    assert fail_with(OSError(28, "No space left on device", "store/data"), monkeypatch) == 1
    assert capsys.readouterr().err.startswith("Stopped: No space left on device (store/data).")


def test_help_imports_nothing_heavy() -> None:
    code = (
        "import sys; from pipeline.cli.app import run; run(['--help']); "
        "heavy = {'polars', 'pandas', 'duckdb', 'altair', 'statsmodels', 'numpy', 'scipy', 'rich', 'pandera'}; "
        "print(sorted(set(sys.modules) & heavy), file=sys.stderr)"
    )

    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)

    assert done.stderr.strip() == "[]"


def test_a_reader_who_leaves_early_hears_nothing(tmp_path: Path) -> None:
    run(["new", str(tmp_path)])
    read_end, write_end = os.pipe()
    os.close(read_end)

    done = subprocess.run(
        [BREWTRIALS, "history", "--lab", tmp_path], stdout=write_end, stderr=subprocess.PIPE, text=True, check=False
    )
    os.close(write_end)

    assert (done.returncode, done.stderr) == (1, "")


def test_ctrl_c_is_answered_with_a_sentence(tmp_path: Path) -> None:
    waiting = (
        "import sys, time; import pipeline.lab as lab\n"
        "def wait(folder, **_):\n    print('begun', flush=True); time.sleep(60)\n"
        "lab.new_lab = wait\n"
        "from pipeline.cli.app import main; main(['new', 'x'])"
    )
    process = subprocess.Popen(
        [sys.executable, "-c", waiting], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, cwd=tmp_path
    )
    assert process.stdout is not None
    assert process.stdout.readline() == "begun\n"
    time.sleep(0.05)

    process.send_signal(signal.SIGINT)
    _, said = process.communicate(timeout=20)

    assert process.returncode == 130
    assert said == "Stopped. Nothing half-done was kept; run the same command again when you like.\n"
