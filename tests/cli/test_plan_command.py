"""`brewtrials plan`, from what is missing to the filled-in sheet, as a user types it."""

from __future__ import annotations

import json
import sys
from pathlib import Path

import openpyxl
import pytest

from pipeline.cli.app import run

sys.path.insert(0, str(Path(__file__).parent))

from small_log import LOG, NOW

PLAN = ["--factor", "grind_steps_finer=-2:2:1", "--factor", "water_temp_c=90:96:3", "--coffee", "ostrin"]
NAMED = [*PLAN, "--study", "june"]


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


def test_a_plan_shows_its_brews_what_they_tell_and_what_not(
    still_lab: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    said = said_by(capsys, "plan", "--lab", str(still_lab), *PLAN, "--replicates", "2", "--difference", "0.5")

    assert "8 brews of 1 coffee in 1 session: full factorial: every combination." in said
    assert "grind from 2 steps coarser to 2 steps finer" in said
    assert "Order drawn at random within each session, seed 1." in said
    assert "lower numbers are finer" in said
    # Ten brews of a small log, two settings and their squares: too few to know the noise well, but known.
    assert "Brews of pour over scatter by" in said
    assert "chance to see 0.50" in said
    assert "Whether the line bends will not be seen for grind and water temperature." in said
    assert "plan-08" in said
    # The dial: 22 is the median of the log's brews of ostrin, and lower is finer.
    assert "24" in said
    assert 'grind_setting = "22"' in said
    assert "Add --out FILE.xlsx" in said


def test_the_seed_gives_the_order_back(still_lab: Path, capsys: pytest.CaptureFixture[str]) -> None:
    def order(seed: str) -> list[str]:
        told = said_by(capsys, "plan", "--lab", str(still_lab), *PLAN, "--replicates", "3", "--seed", seed, "--json")
        brews = json.loads(told[: told.rindex("}") + 1])["brews"]
        return [f"{brew['planned_grind_setting']} {brew['planned_water_temp_c']}" for brew in brews]

    assert order("5") == order("5")
    assert len({tuple(order(seed)) for seed in "1234"}) == 4


def test_a_filled_in_sheet_goes_back_in_and_is_compared(
    lab: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    sheet = tmp_path / "june.xlsx"
    said = said_by(
        capsys,
        "plan",
        "--lab",
        str(lab),
        *NAMED,
        "--hold",
        "dose_g=15",
        "--fill",
        "instrument_id=r-1",
        "--out",
        str(sheet),
    )
    assert f"Wrote {sheet}. Fill it in, then: brewtrials ingest {sheet} --lab {lab}" in said

    book = openpyxl.load_workbook(sheet)
    page = book["brews"]
    place = {cell.value: cell.column for cell in page[1]}
    brews = [row for row in range(2, page.max_row + 1) if page.cell(row, place["void_reason"]).value is None]
    for k, row in enumerate(brews[:3]):
        typed = {"brewed_at": f"2026-05-01 10:{k}0", "dose_g": 15.0, "beverage_g": 221.0, "tds_pct": 1.4}
        for name, value in typed.items():
            page.cell(row, place[name]).value = value
    page.cell(brews[1], place["grind_setting"]).value = "23"
    book.save(sheet)
    assert "3 taken in + 0 already known + 0 set aside" in said_by(
        capsys, "ingest", str(sheet), "--lab", str(lab), "--now", "2026-05-02"
    )

    asked = "select count(*) as n from readings where instrument_id = 'r-1'"
    assert "3" in said_by(capsys, "query", asked, "--lab", str(lab))

    said = said_by(capsys, "plan", "--lab", str(lab), "--against", str(sheet))
    assert "3 of 4 planned brews were brewed." in said
    assert "Not brewed: june-04." in said
    assert "Brewed at other settings than planned: june-02." in said
    assert "The random order was kept." in said
    # The next sheet of the study counts on.
    assert "june-04" in said_by(capsys, "plan", "--lab", str(lab), *NAMED)


def test_further_brews_are_chosen_for_the_ones_made(still_lab: Path, capsys: pytest.CaptureFixture[str]) -> None:
    said = said_by(capsys, "plan", "--lab", str(still_lab), *PLAN, "--add-to-brewed", "--runs", "6", "--json")

    told = json.loads(said[: said.rindex("}") + 1])
    assert told["added"]["n_brewed"] == 8
    before, after = ({tell["name"]: tell["half_width"] for tell in told["added"][key]} for key in ("before", "after"))
    assert all(after[name] < before[name] for name in after)
    assert "After 6 more brews the 95 % interval of one step finer" in " ".join(told["added"]["sentences"])


def test_a_declared_study_is_planned_as_it_stands(lab: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (lab / "study.toml").write_text(
        '[[study]]\nstudy_id = "map"\nquestion = "What does grind do?"\nresponse = "extraction_yield_pct"\n'
        'method = "pour_over"\ncoffees = ["ostrin"]\ndifference_that_matters = 0.4\n'
        '[[study.factor]]\nname = "grind_steps_finer"\nlow = -2\nhigh = 2\n'
        '[[study.factor]]\nname = "water_temp_c"\nlevels = [90, 93, 96]\nhard_to_change = true\ncurve = true\n'
    )

    said = said_by(capsys, "plan", "--lab", str(lab))

    assert "6 brews of 1 coffee" in said
    assert "The water temperature is hard to change and stays put within 3 whole plots of 6 brews" in said
    assert "chance to see 0.40" in said
    assert "map-06" in said
    assert "and whole plot" in said


def test_a_plan_without_known_noise_is_still_a_plan(still_lab: Path, capsys: pytest.CaptureFixture[str]) -> None:
    args = ["plan", "--lab", str(still_lab), "--factor", "dose_g=18:20", "--coffee", "pirolo", "--method", "espresso"]

    said = said_by(capsys, *args)
    assert "There are 0 brews of espresso" in said
    assert "The plan stands all the same; only its intervals are not known." in said
    assert "Brews are taken to scatter by 0.5 points, as you say." in said_by(capsys, *args, "--spread", "0.5")


def test_the_printed_page_is_written_and_nothing_is_overwritten(
    still_lab: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    page = tmp_path / "june.html"
    said_by(capsys, "plan", "--lab", str(still_lab), *NAMED, "--out", str(page))

    assert "Run sheet of june: 4 brews" in page.read_text(encoding="utf-8")
    assert "exists already, perhaps with brews in it" in said_by(
        capsys, "plan", "--lab", str(still_lab), *NAMED, "--out", str(page), code=1
    )


@pytest.mark.parametrize(
    ("args", "said"),
    [
        ([], "What is to vary, from where to where? Add --factor NAME=LOW:HIGH"),
        ([], "Which coffee is brewed? Add --coffee ID (may be repeated; there are"),
        (["--factor", "water_temp_c=92:92", "--coffee", "ostrin"], "has one level, 92"),
        (["--factor", "water_temp_c=hot:96", "--coffee", "ostrin"], "'hot' in 'water_temp_c=hot:96' is no number"),
        (["--factor", "crema=1:2", "--coffee", "ostrin"], "'crema' is not a setting that can be planned"),
        ([*PLAN, "--design", "optimal"], "How many brews may there be? Add --runs N."),
        ([*PLAN, "--design", "optimal", "--runs", "2"], "2 brews cannot tell 2 settings apart"),
        ([*PLAN, "--design", "optimal", "--runs", "9", "--impossible", "water_temp_c>=80"], "called impossible"),
        ([*PLAN, "--block", "day=2"], "not by day"),
        ([*PLAN, "--grinder", "none"], "There is no grinder none in the grinders table; there is bench."),
        ([*PLAN, "--reference", "ostrin=fine"], "'fine' is no setting of grinder bench"),
        ([*PLAN, "--factor", "beverage_ratio=14:16"], "A ratio needs a dose"),
        (["--against", "none.xlsx"], "There is no file none.xlsx"),
    ],
)
def test_what_is_missing_or_cannot_be_is_said(
    still_lab: Path, args: list[str], said: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert said in said_by(capsys, "plan", "--lab", str(still_lab), *args, code=1)


def test_a_dial_without_a_direction_is_asked_about(lab: Path, capsys: pytest.CaptureFixture[str]) -> None:
    log = "brew_id,brewed_at,coffee_id,method,grinder_id,grind_setting,dose_g,beverage_g\n"
    (lab.parent / "more.csv").write_text(log + "m-1,2026-05-01T11:00,pirolo,pour_over,travel,12,15,220\n")
    said_by(capsys, "ingest", str(lab.parent / "more.csv"), "--lab", str(lab), "--now", "2026-05-02")

    args = ["--factor", "grind_steps_finer=-1:1", "--coffee", "pirolo"]
    assert "Which way is finer on grinder travel?" in said_by(capsys, "plan", "--lab", str(lab), *args, code=1)


def test_usage_is_told_plainly(still_lab: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert "cube is not one of full, fractional" in said_by(
        capsys, "plan", "--lab", str(still_lab), *PLAN, "--design", "cube", code=2
    )
    assert "under which name? Add --study ID" in said_by(
        capsys, "plan", "--lab", str(still_lab), *PLAN, "--out", "x.xlsx", code=2
    )
    help_page = said_by(capsys, "plan", "--help")
    assert "x>=" not in help_page
    assert " <" not in help_page
