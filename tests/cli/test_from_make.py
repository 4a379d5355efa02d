from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from pipeline.cli.from_make import arguments, from_environment, matching, split_files

ROOT = Path(__file__).resolve().parents[2]


@pytest.mark.parametrize(
    ("text", "paths"),
    [
        ("a.csv b.csv", ["a.csv", "b.csv"]),
        ("March log.csv", ["March log.csv"]),
        ("  March log.csv ", ["March log.csv"]),
        ("'March log.csv' a.csv", ["March log.csv", "a.csv"]),
        ('a.csv "March log.csv"', ["a.csv", "March log.csv"]),
        (r"March\ log.csv", ["March log.csv"]),
        ("a.csv March log.csv b.csv", ["a.csv", "March log.csv", "b.csv"]),
        ("Mirel's log.csv", ["Mirel's log.csv"]),
        ("a.csv Mirel's log.csv", ["a.csv", "Mirel's log.csv"]),
        ("no such file.csv", ["no", "such", "file.csv"]),
        ("", []),
    ],
)
def test_the_list_of_files_is_read_as_it_was_meant(text: str, paths: list[str]) -> None:
    there = {"a.csv", "b.csv", "March log.csv", "Mirel's log.csv"}

    assert split_files(text, there.__contains__) == paths


def test_a_star_stands_for_files_unless_one_has_that_name(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    for name in ("b log.csv", "a.csv", "odd[1].csv"):
        (tmp_path / name).touch()

    assert matching("*.csv") == ["a.csv", "b log.csv", "odd[1].csv"]
    assert matching(f"{tmp_path}/a*") == [f"{tmp_path}/a.csv"]
    assert matching("odd[1].csv") == ["odd[1].csv"]
    assert matching("none*.csv") == ["none*.csv"]


def test_the_commands_get_what_make_was_given() -> None:
    assert arguments("ingest", "my lab", "x.csv", "") == ["ingest", "--lab", "my lab", "x.csv"]
    assert arguments("dashboard", "lab", "", "out") == ["dashboard", "--lab", "lab", "--out", "out"]
    assert arguments("gate", "", "", "") == ["gate"]


@pytest.mark.parametrize("command", ["ingest", "dashboard", "gate"])
def test_without_a_folder_the_use_is_shown(command: str) -> None:
    kept = {name: value for name, value in os.environ.items() if not name.startswith("BREWTRIALS")}

    done = subprocess.run(
        [sys.executable, "-m", "pipeline.cli.from_make", command], env=kept, capture_output=True, text=True, check=False
    )

    assert done.returncode == 2
    assert done.stderr.startswith("Say what to work on: make ")


def test_the_exit_code_is_the_command_s(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(sys, "argv", ["from_make", "gate"])
    monkeypatch.setenv("BREWTRIALS_MAKE_LAB", str(tmp_path))
    monkeypatch.setenv("BREWTRIALS_MAKE_FILES", "")

    with pytest.raises(SystemExit) as left:
        from_environment()

    assert left.value.code == 1
    assert "is not a project folder" in capsys.readouterr().err


def test_names_reach_the_program_through_make_as_they_stand(tmp_path: Path) -> None:
    """Spaces, quotes, dollar signs and shell words in LAB and FILES, through the real Makefile."""
    files = "'a b.csv' c$$d.csv $(shell touch pwned) `touch pwned2` ; touch pwned3"
    show = (
        "import os, json; print(json.dumps([os.environ['BREWTRIALS_MAKE_LAB'], os.environ['BREWTRIALS_MAKE_FILES']]))"
    )
    makefile = tmp_path / "Makefile"
    makefile.write_text(
        (ROOT / "Makefile").read_text() + f'\nshow:\n\t@"{sys.executable}" -c "{show}"\n', encoding="utf-8"
    )
    kept = {name: value for name, value in os.environ.items() if not name.startswith(("MAKE", "MFLAGS"))}

    done = subprocess.run(
        ["make", "--silent", "show", "LAB=my lab", f"FILES={files}"],
        cwd=tmp_path, env=kept, capture_output=True, text=True, check=True,
    )  # fmt: skip

    assert done.stdout.strip() == f'["my lab", "{files}"]'
    assert [path.name for path in tmp_path.iterdir()] == ["Makefile"]
