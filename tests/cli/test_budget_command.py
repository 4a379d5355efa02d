"""`brewtrials budget` as a user types it."""

from __future__ import annotations

import csv
import json
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from pipeline.cli.app import run

sys.path.insert(0, str(Path(__file__).parents[1] / "pipeline" / "measurement"))

from measuring_lab import files, make_lab

Ask = Callable[..., str]


@pytest.fixture(scope="module")
def measured(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return make_lab(tmp_path_factory.mktemp("labs") / "lab", tmp_path_factory.mktemp("drop"), files())


@pytest.fixture
def ask(measured: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> Ask:
    """What the command prints; with `code`, the exit code it should leave with."""
    monkeypatch.setenv("COLUMNS", "160")

    def asked(*args: str, code: int = 0) -> str:
        assert run(["budget", "--lab", str(measured), *args]) == code
        captured = capsys.readouterr()
        return captured.err if code else captured.out

    return asked


def test_without_a_brew_all_methods_stand_side_by_side(ask: Ask) -> None:
    said = ask()

    assert "pour over" in said
    assert "+- 0.73 points" in said
    assert "Moka: 1 brew, none with an interval. silent has no standard_uncertainty" in said
    assert "brewtrials budget --method METHOD" in said


def test_a_brew_with_its_parts(ask: Ask) -> None:
    said = ask("--brew", "p1")

    assert "Its uncertainty comes from TDS 96 %, dose 4 %." in said
    (row,) = [" ".join(line.split()) for line in said.splitlines() if line.startswith("TDS scatter")]
    assert row == "TDS scatter 0.010 % 16 points per % 0.16 points 19 % 4 repeats (type A)"


def test_several_brews_one_after_the_other(ask: Ask) -> None:
    said = ask("--brew", "p1", "--brew", "once")

    assert said.index("Brew p1, pour over.") < said.index("Brew once, pour over.")


def test_two_brews_and_what_cancels(ask: Ask) -> None:
    said = ask("--brew", "p1", "--against", "p2")

    assert "Difference, p1 less p2: -0.80 points, 95 % interval -1.43 to -0.17: a difference." in said
    assert "an offset cancels as far as it moves both yields alike" in said


def test_a_simulation_beside_the_budget(ask: Ask) -> None:
    first, second = (ask("--brew", "p1", "--monte-carlo", "--seed", "7") for _ in range(2))

    assert "simulation" in first
    assert first == second


def test_a_method_and_what_one_more_would_buy(ask: Ask) -> None:
    said = ask("--method", "pour_over", "--repeats", "3")

    assert "Two recipes brewed (3 brews each, 1 sample a brew, 2 readings a sample)" in said
    assert "One more sample of each brew: not known, because no brew was sampled twice." in said


def test_csv_has_one_line_for_every_part_and_json_the_whole_answer(ask: Ask, tmp_path: Path) -> None:
    rows = list(csv.DictReader(ask("--brew", "p1", "--format", "csv").splitlines()))
    assert sum(float(row["share_pct"]) for row in rows) == pytest.approx(100)

    ask("--brew", "p1", "--out", str(tmp_path / "p1.json"))
    (told,) = json.loads((tmp_path / "p1.json").read_text(encoding="utf-8"))
    assert (told["brew_id"], told["unit"], told["n_readings"]) == ("p1", "%", 2)
    assert told["low"] < told["value"] < told["high"]
    assert set(told["shares"]) == {"TDS", "dose", "beverage"}

    (one, *_) = json.loads(ask("--format", "json"))
    assert one["method"] == "batch_brew"


def test_as_of_asks_an_earlier_state(ask: Ask) -> None:
    assert "There is no brew p1." in ask("--brew", "p1", "--as-of", "0", code=1)


@pytest.mark.parametrize(
    ("args", "said"),
    [
        (["--against", "p2"], "it needs a brew to compare with; add --brew ID"),
        (["--brew", "p1", "--method", "pour_over"], "it asks about a whole method; leave out --brew"),
        (["--repeats", "3"], "it goes with --method"),
        (["--monte-carlo"], "it checks a brew; add --brew ID"),
        (["--brew", "p1", "--against", "p2", "--monte-carlo"], "it checks a brew"),
        (["--brew", "p1", "--seed", "3"], "it is the seed of --monte-carlo"),
        (["--brew", "p1", "--format", "xlsx"], "xlsx is not one of table, csv, json"),
    ],
)
def test_options_that_do_not_go_together_leave_with_2(ask: Ask, args: list[str], said: str) -> None:
    assert said in ask(*args, code=2)


def test_what_has_no_budget_leaves_with_1_and_says_why(ask: Ask) -> None:
    assert ask("--brew", "p11", code=1).startswith("There is no brew p11. Did you mean p1?")
    assert "milk drink" in ask("--brew", "milky", code=1)


def test_an_empty_project_folder_says_what_to_do(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    run(["new", str(tmp_path)])
    capsys.readouterr()

    assert run(["budget", "--lab", str(tmp_path)]) == 0
    assert "No brews yet. Next, hand in a log: brewtrials ingest" in capsys.readouterr().out
