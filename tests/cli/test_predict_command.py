from __future__ import annotations

import csv
import json
from pathlib import Path

import pytest
from small_log import NOW

from pipeline.cli.app import run

HEAD = "brew_id,brewed_at,coffee_id,method,grinder_id,grind_setting,dose_g,beverage_g,water_temp_c,tds_pct"
TARGETS = "target_id,method,quantity,low,high\nt-1,espresso,extraction_yield_pct,18,20\nt-2,espresso,tds_pct,8.5,9.5\n"
STUDY = """[[study]]
study_id = "shots"
question = "What moves it?"
response = "extraction_yield_pct"
method = "espresso"

[[study.factor]]
name = "water_temp_c"

[[study.factor]]
name = "beverage_ratio"

[[study.target]]
response = "extraction_yield_pct"
low = 18.5
high = 19.5
"""


@pytest.fixture(scope="module")
def shots(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """24 shots of 18 g: yield 19 + 0.5 a degree over 93 + 0.5 a ratio step of 0.1 over 2, and 0.1 up and down."""
    rows = []
    for k in range(24):
        temp, ratio, off = 92 + k % 3, (1.9, 2.0, 2.1)[k // 3 % 3], (0.1, -0.1, 0.05, -0.05)[k * 7 % 4]
        made = 19 + 0.5 * (temp - 93) + 5 * (ratio - 2) + off
        rows.append(f"s-{k:02d},2026-05-01T09:{k:02d},c-1,espresso,flat,10,18,{18 * ratio},{temp},{made / ratio:.4f}")
    files = tmp_path_factory.mktemp("shots")
    folder = files / "lab"
    assert run(["new", str(folder)]) == 0
    for name, text in {"brews.csv": "\n".join([HEAD, *rows, ""]), "targets.csv": TARGETS}.items():
        (files / name).write_text(text, encoding="utf-8")
        assert run(["ingest", str(files / name), "--lab", str(folder), *NOW]) == 0
    (folder / "study.toml").write_text(STUDY, encoding="utf-8")
    return folder


@pytest.fixture(autouse=True)
def wide_screen(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", "120")


def test_a_recipe_is_predicted_in_words(shots: Path, capsys: pytest.CaptureFixture[str]) -> None:
    command = ["predict", "--lab", str(shots), "--method", "espresso", "--at", "water_temp_c=94", "--at"]
    assert run([*command, "beverage_ratio=2"]) == 0
    said = capsys.readouterr().out

    # By hand: 19 + 0.5 = 19.5 % and 19.5 / 2 = 9.75 %.
    assert "Water temperature 94 C and beverage ratio 2 g/g, c-1: from 24 espresso brews of 1 coffee." in said
    assert "Expected yield 19.5" in said
    assert "Expected strength 9.7" in said
    assert "one brew is expected between" in said
    assert "the project's own target" in said
    assert "Model: yield: least squares" in said
    assert " will " not in said


def test_json_holds_numbers_the_chance_and_the_sentences(shots: Path, capsys: pytest.CaptureFixture[str]) -> None:
    command = ["predict", "--lab", str(shots), "--at", "water_temp_c=93", "--at", "beverage_ratio=2.0", "--json"]
    assert run([*command, "--yield", "18.5:19.5", "--strength", "9:10"]) == 0
    found = json.loads(capsys.readouterr().out)

    yields, strengths = found["expected"]
    assert yields["value"] == pytest.approx(19.0, abs=0.05)
    assert strengths["value"] == pytest.approx(9.5, abs=0.03)
    assert yields["brew_low"] < yields["low"] < yields["high"] < yields["brew_high"]
    assert found["landing"]["chance"] > 0.95
    assert found["landing"]["window"]["strength_high"] == 10
    assert found["sentences"]


def test_settings_that_land_are_found_by_the_studys_target(shots: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["predict", "--lab", str(shots), "--study", "shots", "--find", "--chance", "80"]) == 0
    said = capsys.readouterr().out

    assert "land in the window (yield 18.5 to 19.5 %) with a chance of at least 80 %" in said
    assert "Best settings" in said
    assert "declared by study shots" in said


def test_rows_go_into_a_file(shots: Path, tmp_path: Path) -> None:
    out = tmp_path / "found.csv"
    assert run(["predict", "--lab", str(shots), "--at", "water_temp_c=93", "--out", str(out)]) == 0

    with out.open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    assert [row["response"] for row in rows] == ["extraction_yield_pct", "cup_tds_pct"]
    assert float(rows[0]["brew_low"]) < float(rows[0]["low"])


@pytest.mark.parametrize(
    ("args", "said"),
    [
        (
            ["--at", "water_temp_c=99"],
            "Nothing is said outside the region brewed: water temperature was brewed from 92",
        ),
        (["--at", "water_temp_c"], "water_temp_c is not a setting; write NAME=VALUE"),
        (["--at", "water_temp_c=93", "--at", "water_temp_c=94"], "water_temp_c is set twice"),
        (["--at", "water_temp=93"], "did you mean water_temp_c?"),
        (["--yield", "22:18"], "its low end must be under its high end"),
        (["--yield", "22"], "22 is not a window for yield; write LOW:HIGH"),
        (["--coffee", "c-2"], "did you mean c-1?"),
        (["--new-coffee"], "1 coffee cannot tell how far another one would differ"),
        (["--at", "grind_steps_finer=1"], "grind"),
        (["--factors", "water_temp_c", "--at", "beverage_ratio=2"], "beverage_ratio is not in the model"),
    ],
)
def test_what_cannot_be_answered_is_refused_in_words(
    args: list[str], said: str, shots: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["predict", "--lab", str(shots), *args, "--json"]) == 1

    captured = capsys.readouterr()
    assert said in captured.err
    assert json.loads(captured.out)["error"] in captured.err
