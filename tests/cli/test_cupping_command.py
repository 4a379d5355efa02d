"""The cupping commands as they are typed."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from pipeline.cli.app import run

ASKED = ["--coffee", "ostrin", "--coffee", "tarn", "--assessor", "Ana", "--assessor", "Bo"]


@pytest.fixture
def folder(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> Path:
    assert run(["new", str(tmp_path / "lab")]) == 0
    capsys.readouterr()
    return tmp_path


def plan(folder: Path, *more: str) -> int:
    return run(["cupping", "plan", "--lab", str(folder / "lab"), "--session", "june", *more])


def test_plan_writes_sheets_and_a_key_beside_them(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert plan(folder, *ASKED, "--seed", "3", "--out", str(folder / "panel")) == 0

    captured = capsys.readouterr()
    assert sorted(path.name for path in (folder / "panel").iterdir()) == ["score-sheets.html", "score-sheets.xlsx"]
    key = (folder / "panel-key-servings.csv").read_text().splitlines()
    assert key[0] == "session_id,blind_code,brew_id,coffee_id,cup_no,served_as"
    assert len(key) == 3
    assert "in each place once" in captured.out
    assert "Keep it from whoever tastes" in captured.err
    lab = str(folder / "lab")
    assert run(["ingest", str(folder / "panel"), str(folder / "panel-key-servings.csv"), "--lab", lab]) == 0
    assert plan(folder, *ASKED) == 1
    assert "in the project folder already" in capsys.readouterr().err


def test_without_a_seed_nobody_can_guess_the_codes(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    seeds = set()
    for _ in range(2):
        assert plan(folder, *ASKED, "--json") == 0
        seeds.add(json.loads(capsys.readouterr().out)["seed"])
    assert len(seeds) == 2


def test_score_sheets_are_written_again_from_the_key(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = folder / "panel"
    plan(folder, *ASKED, "--seed", "3", "--out", str(out), "--key", str(folder / "kept.csv"))
    again = folder / "again"
    names = ["--assessor", "Ana", "--assessor", "Bo"]
    asked = ["cupping", "score-sheets", "--lab", str(folder / "lab"), "--key", str(folder / "kept.csv"), *names]

    assert run([*asked, "--seed", "3", "--out", str(again)]) == 0

    assert (again / "score-sheets.html").read_bytes() == (out / "score-sheets.html").read_bytes()
    assert (again / "score-sheets.xlsx").read_bytes() == (out / "score-sheets.xlsx").read_bytes()


@pytest.mark.parametrize(
    ("more", "code", "said"),
    [
        (["--coffee", "a"], 1, "Who tastes? Add --assessor NAME"),
        (["--assessors", "3"], 1, "What is to be tasted?"),
        ([*ASKED, "--assessors", "3"], 2, "name the assessors, or say how many"),
        ([*ASKED, "--milk-g", "100"], 2, "is there milk or not? Add --served-as milk"),
        ([*ASKED, "--served-as", "tea"], 2, "tea is not one of black, milk"),
        ([*ASKED, "--key", "key.csv"], 2, "where do the score sheets go? Add --out DIR"),
        ([*ASKED, "--attribute", "body"], 1, "no attribute body"),
        ([*ASKED, "--study", "june"], 1, "No brew of study june"),
    ],
)
def test_what_is_missing_is_asked_for(
    folder: Path, capsys: pytest.CaptureFixture[str], more: list[str], code: int, said: str
) -> None:
    assert plan(folder, *more) == code
    assert said in capsys.readouterr().err


def test_many_strong_cups_are_warned_of(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    many = [word for k in range(30) for word in ("--coffee", f"c{k}")]
    assert plan(folder, *many, "--assessors", "4", "--ml-per-cup", "20") == 0

    said = capsys.readouterr().out
    assert "467 mg" in said  # 30 cups of 20 ml, 1 g to 18 ml, 14 mg in a gram
    assert "take under 8.6 ml of each cup" in said
    assert "30 cups at a sitting tire most palates" in said
