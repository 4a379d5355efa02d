from __future__ import annotations

import json
from pathlib import Path

import pytest
from small_log import NOW

from pipeline.cli.app import run

LOG = """brew_id,brewed_at,coffee_id,method,grinder_id,dose_g,beverage_g,tds_pct
{rows}
"""
STUDY = """[[study]]
study_id = "two-grinders"
question = "Do the grinders differ?"
response = "extraction_yield_pct"
method = "espresso"
difference_that_matters = 0.5
"""


@pytest.fixture
def compared(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> Path:
    """Two grinders, six shots each, alternating strengths about 9.00 and 9.30 %: 18.0 and 18.6 % of 18 g in 36 g."""
    rows = [
        f"b-{k},2026-05-01T09:{k:02d},c-1,espresso,{grinder},18,36,{strength + (0.03 if k % 4 < 2 else -0.03):.2f}"
        for k in range(12)
        for grinder, strength in [(("flat", 9.00), ("cone", 9.30))[k % 2]]
    ]
    folder, log = tmp_path / "shots", tmp_path / "brews.csv"
    log.write_text(LOG.format(rows="\n".join(rows)), encoding="utf-8")
    assert run(["new", str(folder)]) == 0
    assert run(["ingest", str(log), "--lab", str(folder), *NOW]) == 0
    capsys.readouterr()
    return folder


def test_two_grinders_are_compared_in_words(compared: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["compare", "--lab", str(compared), "--by", "grinder_id"]) == 0
    said = capsys.readouterr().out
    # 18.6 - 18.0 points by hand: the strengths differ by 0.30 %, and 36 g of 18 g are twice that.
    assert "Grinder flat against cone: -0.60 points" in said
    assert "they differ" in said
    assert "for this coffee" in said


def test_json_holds_every_number_and_sentence(compared: Path, capsys: pytest.CaptureFixture[str]) -> None:
    command = [
        "compare",
        "--lab",
        str(compared),
        "--by",
        "grinder_id",
        "--against",
        "cone",
        "--difference",
        "0.2",
        "--json",
    ]
    assert run(command) == 0
    found = json.loads(capsys.readouterr().out)
    (one,) = found["differences"]
    assert one["estimate"] == pytest.approx(-0.60)
    assert one["settled"] == "differ"
    assert one["low"] < -0.60 < one["high"] < 0
    assert found["sentences"]


def test_the_difference_that_matters_comes_from_the_study(compared: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (compared / "study.toml").write_text(STUDY, encoding="utf-8")
    command = ["compare", "--lab", str(compared), "--by", "grinder_id", "--study", "two-grinders", "--json"]
    assert run(command) == 0
    assert json.loads(capsys.readouterr().out)["differences"][0]["difference_that_matters"] == 0.5


def test_an_unknown_column_is_refused_as_json_too(compared: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["compare", "--lab", str(compared), "--by", "grinder", "--json"]) == 1
    captured = capsys.readouterr()
    assert "did you mean grinder_id?" in captured.err
    assert "did you mean grinder_id?" in json.loads(captured.out)["error"]
