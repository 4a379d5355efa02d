"""`brewtrials instruments` as a user types it."""

from __future__ import annotations

import csv
import json
import sys
import tomllib
from pathlib import Path

import pytest

from pipeline.cli.app import run

sys.path.insert(0, str(Path(__file__).parents[1] / "pipeline" / "measurement"))

from measuring_lab import files, make_lab


@pytest.fixture(scope="module")
def measured(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return make_lab(tmp_path_factory.mktemp("labs") / "lab", tmp_path_factory.mktemp("drop"), files())


def test_everything_about_the_instruments_in_words(measured: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["instruments", "--lab", str(measured), "--tolerance", "0.1"]) == 0

    said = capsys.readouterr().out
    for words in (
        "r1 (refractometer, 18 checks, ",
        "readings on r1 are in doubt.",
        "s1 has no checks, so that nothing is known of its drift.",
        "r2 reads 0.030 % TDS higher than r1 on average",
        "One may stand in for the other within 0.100 % TDS either way.",
        "4 brews with a strength by drying (8 dishes)",
        "Drying ovens and hot dishes burn.",
        "on average 2.00 g missing",
    ):
        assert words in said, words
    block = said[said.index("[correction.r2]") :].partition("\n\n")[0]
    assert tomllib.loads(block)["correction"]["r2"]["offset"] == pytest.approx(0.04, abs=0.005)


def test_one_instrument_as_json_and_as_csv(measured: Path, capsys: pytest.CaptureFixture[str]) -> None:
    asked = ["instruments", "--lab", str(measured), "--instrument", "r2"]
    assert run([*asked, "--format", "json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert [one["instrument"]["instrument_id"] for one in told["instruments"]] == ["r2"]
    assert told["instruments"][0]["suggested_block"].startswith("[correction.r2]")
    assert {(pair["a"], pair["b"]) for pair in told["agreement"]} >= {("r1", "r2"), ("drying oven", "r2")}

    assert run([*asked, "--format", "csv"]) == 0
    rows = list(csv.DictReader(capsys.readouterr().out.splitlines()))
    (bias,) = [row for row in rows if row["subject"] == "r2 less r1" and row["quantity"] == "bias"]
    assert (float(bias["value"]), bias["unit"], bias["n"]) == (pytest.approx(0.03), "%", "6")


def test_an_unknown_instrument_leaves_with_1(measured: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["instruments", "--lab", str(measured), "--instrument", "r22"]) == 1
    assert capsys.readouterr().err == "There is no instrument r22. Did you mean r2?\n"


def test_no_instruments_yet(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    run(["new", str(tmp_path)])
    capsys.readouterr()

    assert run(["instruments", "--lab", str(tmp_path)]) == 0
    assert capsys.readouterr().out.startswith("No instruments yet. Name them in an instruments table")


def test_brews_read_on_nothing_that_has_a_name(lab: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["instruments", "--lab", str(lab)]) == 0

    said = capsys.readouterr().out
    assert said.startswith("No instruments yet. Name them in an instruments table")
    assert "Do the weights add up?" in said
