"""Filled-in sheets go straight back; a code without a key waits for it and is never guessed."""

from __future__ import annotations

from pathlib import Path

import openpyxl
import polars as pl
import pytest

from pipeline.cupping.plan import CuppingPlan, Wanted, plan_cupping
from pipeline.cupping.samples import Chosen, Sample
from pipeline.cupping.scales import scales_of
from pipeline.cupping.sheet import score_sheets
from pipeline.cupping.write import key_place, write_key, write_sheets
from schemas.contracts import TABLES

NO_ATTRIBUTES = pl.DataFrame(schema={name: pl.String() for name in TABLES["attributes"].column_names})
TASTINGS = "session_id,blind_code,assessor,attribute,score,position\n"
KEY = "session_id,blind_code,coffee_id\n"


def written(drop: Path) -> CuppingPlan:
    plan = plan_cupping(
        Chosen((Sample("coffee", "ostrin"), Sample("coffee", "tarn")), ()), Wanted("june", ("Brews", "Ana"), seed=3)
    )
    write_sheets(score_sheets(plan, scales_of(NO_ATTRIBUTES, steps={}), "Caffeine."), drop / "panel")
    write_key(plan, key_place(drop / "panel"))
    return plan


def fill_in(path: Path, sheet: str, scores: dict[int, float]) -> None:
    book = openpyxl.load_workbook(path)
    for row, score in scores.items():
        book[sheet].cell(row, 4).value = score
    book.save(path)


def test_filled_sheets_and_key_unblind_each_other_in_any_order(lab) -> None:
    plan = written(lab.drop)
    sheet = lab.drop / "panel" / "score-sheets.xlsx"
    fill_in(sheet, "1 Brews tastings", {2: -1, 3: 0, 4: 0, 5: 2})

    report = lab.ingest(sheet)
    entry = report.entries[0]
    # The key has not come: four scores wait, two cells of the second cup and the other sheet were left empty.
    assert (entry.table, entry.rows_read, entry.taken_in, entry.set_aside, entry.blank) == ("tastings", 6, 0, 4, 2)
    assert [one.blank for one in report.entries[:2]] == [2, 6]
    assert all(one.adds_up for one in report.entries)
    aside = lab.list("set_aside")
    assert set(aside.select("column", "rule").rows()) == {("blind_code", "unknown_id")}
    assert "is not in servings of session june" in aside["message"][0]

    came = lab.ingest(key_place(lab.drop / "panel"))
    assert [row.outcome for row in came.retried] == ["taken in"] * 4
    assert lab.list("set_aside").is_empty()
    told = lab.current("tastings").join(lab.current("servings"), on=["session_id", "blind_code"])
    first = next(cup for cup in plan.sittings[0].cups if cup.blind_code == plan.sittings[0].orders["Brews"][0])
    assert told.filter(pl.col("position") == 1)["coffee_id_right"].unique().to_list() == [first.sample.id]
    assert set(told["assessor"]) == {"Brews"}
    # Sheets that go in again, fuller, add only what is new; what was left empty makes no noise.
    fill_in(sheet, "2 Ana tastings", {2: 1})
    again = lab.ingest(sheet)
    assert [(one.taken_in, one.already_known, one.set_aside, one.blank) for one in again.entries[:2]] == [
        (0, 4, 0, 2),
        (1, 0, 0, 5),
    ]


def test_the_key_and_the_scores_in_one_call_need_no_waiting(lab) -> None:
    written(lab.drop)
    fill_in(lab.drop / "panel" / "score-sheets.xlsx", "1 Brews tastings", {2: 1})

    report = lab.ingest(lab.drop / "panel", key_place(lab.drop / "panel"))

    assert lab.current("tastings").height == 1
    assert report.retried == ()


def test_a_code_of_another_session_is_not_taken_for_this_one(lab) -> None:
    lab.take("servings.csv", KEY + "may,472,ostrin\n")
    lab.take("tastings.csv", TASTINGS + "june,472,Ana,taste_balance,1,1\n")

    assert lab.current("tastings").is_empty()
    again = lab.take("more servings.csv", KEY + "may,518,ostrin\n")
    assert again.retried == ()
    june = lab.take("june servings.csv", KEY + "june,472,tarn\n")
    assert [row.outcome for row in june.retried] == ["taken in"]


def test_a_mistyped_code_is_set_aside_and_goes_in_when_corrected(lab) -> None:
    lab.take("servings.csv", KEY + "june,472,ostrin\njune,815,tarn\n")
    good = "june,815,Ana,taste_balance,0,2\n"
    lab.take("tastings.csv", TASTINGS + "june,473,Ana,taste_balance,1,1\n" + good)
    assert lab.list("set_aside").select("line", "value").rows() == [(2, "473")]

    lab.take("tastings.csv", TASTINGS + "june,472,Ana,taste_balance,1,1\n" + good)

    assert lab.list("set_aside").is_empty()
    assert lab.current("tastings")["blind_code"].sort().to_list() == ["472", "815"]


def test_a_key_that_waits_for_its_brew_lets_the_scores_in_with_it(lab) -> None:
    lab.take("servings.csv", "session_id,blind_code,brew_id\njune,472,b-1\n")
    lab.take("tastings.csv", TASTINGS + "june,472,Ana,taste_balance,1,1\n")
    assert lab.list("set_aside").height == 2

    report = lab.take("coffees.csv", "coffee_id,name\nostrin,Ostrin\n")
    assert report.retried == ()
    brew = "brew_id,brewed_at,coffee_id,method,dose_g,beverage_g\nb-1,2026-04-03T09:15:00Z,ostrin,espresso,18,36\n"
    report = lab.take("brews.csv", brew)

    assert [(row.table, row.outcome) for row in report.retried] == [("servings", "taken in"), ("tastings", "taken in")]
    assert lab.list("set_aside").is_empty()


def test_wide_score_sheets_wait_for_their_key_too(lab) -> None:
    (lab.dir / "columns.toml").write_text(
        '[files."panel*.csv"]\ntable = "tastings"\nattributes = ["sweet", "sour"]\n[files."panel*.csv".constants]\n'
        'session_id = "june"\n'
    )
    lab.take("panel.csv", "blind_code,assessor,sweet,sour\n472,Ana,5,3\n")
    assert lab.current("tastings").is_empty()

    report = lab.take("servings.csv", KEY + "june,472,ostrin\n")

    assert [row.outcome for row in report.retried] == ["taken in"]
    assert lab.current("tastings").select("attribute", "score").sort("attribute").rows() == [("sour", 3), ("sweet", 5)]


def test_a_score_that_names_its_coffee_needs_no_key(lab) -> None:
    lab.take("tastings.csv", "session_id,blind_code,coffee_id,assessor,attribute,score\njune,472,ostrin,Ana,sweet,5\n")

    assert lab.current("tastings").height == 1


@pytest.mark.parametrize("typed", ["june,472,Ana,taste_balance,,1,,spilt", "june,472,Ana,taste_balance,,1,60,"])
def test_an_empty_score_with_anything_else_typed_is_told_of(lab, typed: str) -> None:
    lab.take("servings.csv", KEY + "june,472,ostrin\n")
    header = "session_id,blind_code,assessor,attribute,score,position,cup_temp_c,notes\n"
    report = lab.take("tastings.csv", header + typed + "\njune,472,Bo,taste_balance,,1,,\n")

    assert (report.entries[0].set_aside, report.entries[0].blank) == (1, 1)
    assert lab.list("set_aside")["rule"].to_list() == ["empty_required"]
