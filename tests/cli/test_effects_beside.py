from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
from small_log import NOW

from pipeline.cli.app import run


@pytest.fixture
def shots(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> Path:
    """Sixty shots to six recipes, a third of them channeled and two points lower, one read ten times too high."""
    rng = np.random.default_rng(17)
    rows = ["brew_id,brewed_at,coffee_id,recipe_id,method,dose_g,beverage_g,tds_pct,water_temp_c,channeling"]
    for k in range(60):
        recipe, channeled = k % 6, (k // 6) % 3 == 0
        tds = 9.5 + 0.1 * recipe - (1.0 if channeled else 0.0) + rng.normal(0, 0.1)
        when = f"2026-04-{1 + k // 12:02d}T{8 + k % 12:02d}:00"
        seen = "severe" if channeled else "none"
        rows.append(f"b-{k},{when},c-1,r-{recipe},espresso,18,36,{tds:.2f},{90 + recipe},{seen}")
    folder, log = tmp_path / "shots", tmp_path / "brews.csv"
    log.write_text("\n".join(rows) + "\n", encoding="utf-8")
    assert run(["new", str(folder)]) == 0
    assert run(["ingest", str(log), "--lab", str(folder), *NOW]) == 0
    capsys.readouterr()
    return folder


def asked(shots: Path, *more: str) -> list[str]:
    return ["effects", "--lab", str(shots), "--factors", "water_temp_c", *more]


def test_channeling_spread_and_verdict_stand_beside_the_table(shots: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(asked(shots, "--channeling", "--spread")) == 0
    said = capsys.readouterr().out
    # One point of strength less in 36 g of 18 g: two points of yield less, by hand.
    assert "Channeled shots yielded 2.0 points less" in said
    assert "points of yield (standard deviation, 60 brews of 1 coffee)" in said
    assert "No brew here has an uncertainty budget" in said
    assert "These brews can answer" in said
    assert "caused" not in said


def test_all_of_it_is_in_the_object(shots: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(asked(shots, "--channeling", "--spread", "--json")) == 0
    found = json.loads(capsys.readouterr().out)
    assert found["diagnosis"]["verdict"]
    assert found["channeling"]
    assert sum(source["share"] for source in found["spread"]["sources"]) == pytest.approx(1.0)


def test_a_pasted_brew_is_named(shots: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    row = next(line for line in (tmp_path / "brews.csv").read_text().splitlines() if line.startswith("b-1,"))
    again = tmp_path / "again.csv"
    header = (tmp_path / "brews.csv").read_text().splitlines()[0]
    again.write_text(f"{header}\n{row.replace('b-1,', 'b-99,', 1)}\n", encoding="utf-8")
    assert run(["ingest", str(again), "--lab", str(shots), "--table", "brews", *NOW]) == 0
    capsys.readouterr()
    assert run(asked(shots)) == 0
    said = capsys.readouterr().out
    assert "flagged as a likely slip or a repeated row" in said
    assert "counted as it stands: b-1." in said


def test_methods_in_one_model_have_no_common_spread(shots: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(asked(shots, "--pool-methods", "--spread")) == 1
    assert "one method at a time" in capsys.readouterr().err
