"""`brewtrials gauge`, from the plan to the answer, as a user types it."""

from __future__ import annotations

import csv
import json
import sys
from pathlib import Path

import pytest

from pipeline.cli.app import run

sys.path.insert(0, str(Path(__file__).parents[1] / "pipeline" / "measurement"))

from measuring_lab import INSTRUMENTS, gauge_study, make_lab

PLAN = ["gauge", "plan", "--brews", "a,b,c", "--readers", "Rosa,Sam", "--instrument", "r1"]


def test_a_study_in_words_csv_and_json(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", "120")
    lab = make_lab(tmp_path / "lab", tmp_path, {"instruments.csv": INSTRUMENTS, **gauge_study()})
    asked = ["gauge", "--lab", str(lab), "--study", "gauge-may"]

    assert run([*asked, "--tolerance", "8"]) == 0
    said = capsys.readouterr().out
    assert "8 % of the variance is the gauge, 92 % the coffee" in said
    assert "analysis of variance" in said

    assert run([*asked, "--format", "csv"]) == 0
    rows = {row["part"]: row for row in csv.DictReader(capsys.readouterr().out.splitlines())}
    assert float(rows["gauge"]["sd"]) ** 2 == pytest.approx(0.0914285375, abs=2e-9)  # AIAG, check-values.md 2.5

    assert run([*asked, "--format", "json"]) == 0
    assert json.loads(capsys.readouterr().out)["verdict"]["kind"] == "fine_so_far"

    assert run([*asked[:-1], "gauge-june"]) == 1
    assert "There is no study gauge-june. Did you mean gauge-may?" in capsys.readouterr().err


def test_a_plan_filled_in_and_ingested_is_a_study(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    brews = "brew_id,study_id,brewed_at,coffee_id,method,dose_g,beverage_g\n"
    brews += "".join(f"{brew},mine,2026-05-04,ostrin,pour_over,18,288\n" for brew in "abc")
    lab = make_lab(tmp_path / "lab", tmp_path, {"instruments.csv": INSTRUMENTS, "brews.csv": brews})
    sheet = tmp_path / "readings-of-the-study.csv"
    assert run([*PLAN, "--repeats", "2", "--seed", "4", "--out", str(sheet)]) == 0
    captured = capsys.readouterr()
    assert f"Wrote {sheet}: 12 readings in 2 rounds of 6 min (seed 4)." in captured.out
    assert "3 brews: how far coffee differs will be known only roughly; take six to ten." in captured.err

    rows = list(csv.DictReader(sheet.read_text(encoding="utf-8").splitlines()))
    for place, row in enumerate(rows):
        tds = 1.2 + 0.1 * "abc".index(row["brew_id"]) + (0.01 if row["read_by"] == "Sam" else 0) + 0.001 * (place % 3)
        row["tds_pct"] = f"{tds:.3f}"
    with sheet.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, rows[0])
        writer.writeheader()
        writer.writerows(rows)
    assert run(["ingest", str(sheet), "--lab", str(lab)]) == 0
    capsys.readouterr()

    assert run(["gauge", "--lab", str(lab), "--study", "mine"]) == 0
    assert "3 brews, 2 readers, 12 readings" in capsys.readouterr().out


def test_the_same_seed_gives_the_same_sheet_and_an_existing_one_is_kept(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    one, two, page = tmp_path / "one.xlsx", tmp_path / "two.xlsx", tmp_path / "page.html"
    for out in (one, two, page):
        assert run([*PLAN, "--out", str(out)]) == 0
    assert one.read_bytes() == two.read_bytes()
    assert "<td>a</td>" not in page.read_text(encoding="utf-8")
    capsys.readouterr()

    assert run([*PLAN, "--out", str(one)]) == 1
    assert "exists already, perhaps with readings in it" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("args", "said"),
    [
        (["gauge"], "brewtrials gauge: which project folder? Add --lab DIR"),
        (["gauge", "--lab", "x"], "brewtrials gauge: which study? Add --study ID"),
        (["gauge", "plan"], "brewtrials gauge plan: which brews? Add --brews A,B,C"),
        (["gauge", "plan", "--brews", "a,b"], "brewtrials gauge plan: who reads? Add --readers X,Y"),
        (["gauge", "plan", "--brews", "a", "--readers", "x,y"], "which instrument? Add --instrument ID"),
        (PLAN, "brewtrials gauge plan: where to? Add --out FILE.xlsx"),
        (["gauge", "plon"], "No such command 'plon'"),
    ],
)
def test_what_is_missing_is_asked_for(
    args: list[str], said: str, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delenv("BREWTRIALS_LAB", raising=False)

    assert run(args) == 2
    assert said in capsys.readouterr().err


def test_both_help_pages_are_plain(capsys: pytest.CaptureFixture[str]) -> None:
    for args in (["gauge"], ["gauge", "plan"]):
        assert run([*args, "--help"]) == 0
        said = capsys.readouterr().out
        assert "x>=" not in said
        assert "<" not in said
    assert "Commands:\n  plan" not in said
