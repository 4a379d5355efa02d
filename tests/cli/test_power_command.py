"""`brewtrials power` as a user types it."""

from __future__ import annotations

import json
import math
import sys
from pathlib import Path

import pytest
from scipy import stats

from pipeline.cli.app import run

sys.path.insert(0, str(Path(__file__).parent))

from small_log import LOG, NOW


@pytest.fixture(scope="module")
def still_lab(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The small log taken in, for commands that only read."""
    folder = tmp_path_factory.mktemp("still") / "lab"
    run(["new", str(folder)])
    (folder.parent / "brews.csv").write_text(LOG)
    (folder.parent / "grinders.csv").write_text("grinder_id,finer_is\nbench,lower\n")
    assert (
        run(
            [
                "ingest",
                *(str(folder.parent / name) for name in ("brews.csv", "grinders.csv")),
                "--lab",
                str(folder),
                *NOW,
            ]
        )
        == 0
    )
    return folder


def said_by(capsys: pytest.CaptureFixture[str], *args: str, code: int = 0) -> str:
    """What a command says on both streams."""
    assert run(list(args)) == code
    captured = capsys.readouterr()
    return captured.out + captured.err


def test_two_recipes_at_a_spread_somebody_names(still_lab: Path, capsys: pytest.CaptureFixture[str]) -> None:
    said = said_by(capsys, "power", "--lab", str(still_lab), "--difference", "0.5", "--spread", "0.5", "--brews", "10")

    # d = 1: R's power.t.test gives 16.71, so 17; with 10 of each the chance is that of a noncentral t.
    assert "brew each 17 times." in said
    critical, shift = stats.t.ppf(0.975, 18), math.sqrt(5)
    chance = stats.nct.sf(critical, 18, shift) + stats.nct.cdf(-critical, 18, shift)
    assert f"one of 0.50 points with {100 * chance:.0f} %" in said
    assert "Brewed side by side" in said


def test_a_setting_is_answered_from_the_lab_s_own_noise_with_its_interval(
    still_lab: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    args = ["power", "--lab", str(still_lab), "--difference", "0.5", "--factor", "water_temp_c=90:96", "--coffees", "2"]

    said = said_by(capsys, *args, "--simulations", "60")
    assert "Brews of pour over scatter by" in said
    assert "as the spread itself is known only so far (95 %)" in said
    assert "Checked by brewing it 60 times on paper" in said
    assert "made so far" in said

    told = json.loads(said_by(capsys, *args, "--simulations", "60", "--seed", "3", "--json"))
    low, high = told["simulated_interval"]
    assert low <= told["simulated_share"] <= high
    assert told["answer"]["needed_low"] <= told["answer"]["needed"] <= told["answer"]["needed_high"]
    again = json.loads(said_by(capsys, *args, "--simulations", "60", "--seed", "3", "--json"))
    assert again == told


@pytest.mark.parametrize(
    ("args", "code", "said"),
    [
        ([], 1, "Which difference matters? Add --difference D in points"),
        (["--difference", "0.5", "--recipes", "1"], 1, "two recipes or more"),
        (["--difference", "0.5", "--factor", "water_temp_c=90:90"], 1, "has one level"),
        (["--difference", "0.5", "--factor", "water_temp_c=90:96", "--coffees", "0"], 1, "counted from 1"),
        (["--difference", "0.5", "--coffees", "3"], 2, "they go with --factor"),
        (["--difference", "0.5", "--chance", "1.5"], 1, "between 0.05 and 1"),
        (["--difference", "0.5", "--spread", "-1"], 1, "must be a number above 0"),
        (["--difference", "0.5", "--method", "espresso"], 1, "There are 0 brews of espresso"),
        (["--difference", "0.5", "--response", "grind_setting", "--spread", "1"], 1, "not a result"),
        (["--difference", "0.5", "--study", "june"], 1, "No study is declared"),
    ],
)
def test_what_is_missing_or_cannot_be_is_said(
    still_lab: Path, args: list[str], code: int, said: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert said in said_by(capsys, "power", "--lab", str(still_lab), *args, code=code)


def test_the_help_page_is_plain(capsys: pytest.CaptureFixture[str]) -> None:
    said = said_by(capsys, "power", "--help")

    assert "x>=" not in said
    assert " <" not in said
