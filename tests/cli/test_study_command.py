"""`brewtrials study` as a user types it."""

from __future__ import annotations

import csv
import json
from pathlib import Path

import pytest

from pipeline.cli.app import run

STUDY = """\
[[study]]
study_id = "bench-map"
question = "What do grind and temperature do?"
response = "extraction_yield_pct"
method = "pour_over"
coffees = ["ostrin"]
difference_that_matters = 0.5

[[study.factor]]
name = "grind_steps_finer"
step = 2
low = -2
high = 2

[[study.factor]]
name = "water_temp_c"
low = 92
high = 96
hard_to_change = true
"""


@pytest.fixture
def declared(lab: Path) -> Path:
    (lab / "study.toml").write_text(STUDY + '[[study.exclusion]]\nbrew_id = "b-02"\nreason = "spilt"\n')
    return lab


def test_the_page_of_a_study(declared: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["study", "--lab", str(declared)]) == 0

    said = capsys.readouterr().out
    assert "What do grind and temperature do?" in said
    assert "A difference that matters: 0.5 points." in said
    assert "Hard to change between brews: water_temp_c." in said
    assert "Not recorded yet: the next ingest does it" in said
    assert "No brew carries study_id bench-map: all brews of pour over and of ostrin stand in for it (8 brews)." in said
    assert "1 of 8 brews left out: 1 excluded (spilt)." in said
    assert "water_temp_c went outside the declared range 92 to 96 C in 2 brews: b-04, b-05." in said
    rows = [" ".join(line.split()) for line in said.splitlines()]
    assert "b-02 excluded (spilt)" in rows
    assert "water_temp_c 1 C 92 to 96 C 90 to 96 C 7 2 slope" in rows


def test_recording_and_what_an_ingest_says(declared: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["study", "--record", "--lab", str(declared)]) == 0
    assert capsys.readouterr().out == "Recorded: bench-map.\n"
    assert run(["study", "--record", "--lab", str(declared)]) == 0
    assert "Nothing new" in capsys.readouterr().out

    (declared / "study.toml").write_text(STUDY)
    assert run(["ingest", str(tmp_path / "brews.csv"), "--lab", str(declared), "--now", "2026-05-02"]) == 0
    assert "Recorded what study.toml declares now: bench-map." in capsys.readouterr().out

    assert run(["study", "--lab", str(declared)]) == 0
    said = capsys.readouterr().out
    assert "Declared after its data: recorded at ingest 3, when 8 of 8 brews were in the log." in said
    assert "Changed since, against what was recorded first: exclusion of b-02 taken out." in said


def test_json_and_csv_for_programs(declared: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["study", "--lab", str(declared), "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["study"]["difference_that_matters"] == 0.5
    assert told["declaration"]["state"] == "not recorded"
    assert told["brews"]["left_out"] == {"excluded (spilt)": ["b-02"]}
    assert told["brews"]["ranges"][1]["outside"] == ["b-04", "b-05"]

    assert run(["study", "--lab", str(declared), "--out", str(tmp_path / "study.csv")]) == 0
    with (tmp_path / "study.csv").open(newline="") as file:
        grind, water = csv.DictReader(file)
    assert (grind["factor"], grind["n_brews"], grind["n_outside"]) == ("grind_steps_finer", "7", "0")
    assert (water["declared_low"], water["brewed_low"]) == ("92.0", "90.0")


def test_a_file_to_fill_in_is_written_once(lab: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["study", "--start", "--lab", str(lab)]) == 0
    assert f"Wrote {lab / 'study.toml'}." in capsys.readouterr().out
    before = (lab / "study.toml").read_bytes()

    assert run(["study", "--start", "--lab", str(lab)]) == 1
    assert "is there already and was left as it is" in capsys.readouterr().err
    assert (lab / "study.toml").read_bytes() == before
    assert run(["study", "--lab", str(lab)]) == 1
    assert "No study is declared" in capsys.readouterr().err


def test_one_of_several_studies_is_named(declared: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (declared / "study.toml").write_text(STUDY + STUDY.replace("bench-map", "second"))

    assert run(["study", "--lab", str(declared)]) == 1
    assert "declares 2 studies: bench-map, second. Say which: --study ID." in capsys.readouterr().err
    assert run(["study", "--lab", str(declared), "--study", "second"]) == 0
    assert capsys.readouterr().out.startswith("Study second\n")


@pytest.mark.parametrize(
    ("options", "said"),
    [
        (("--start", "--record"), "fill it in first"),
        (("--start", "--study", "x"), "it only writes the file"),
        (("--record", "--json"), "it only records"),
        (("--json", "--format", "csv"), "does not go with --format csv"),
    ],
)
def test_options_that_do_not_go_together(
    declared: Path, options: tuple[str, ...], said: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["study", "--lab", str(declared), *options]) == 2
    assert said in " ".join(capsys.readouterr().err.split())


def test_a_study_before_any_brew(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    folder = tmp_path / "fresh"
    assert run(["new", str(folder)]) == 0
    (folder / "study.toml").write_text(STUDY)
    capsys.readouterr()

    assert run(["study", "--lab", str(folder)]) == 0
    said = capsys.readouterr().out
    assert "No brew of it is in the log." in said
    assert "stand in for it (0 brews)" in said
