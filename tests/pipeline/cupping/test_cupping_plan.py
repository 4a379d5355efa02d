"""A planned session: sheets that tell nothing, a key that tells all, and the way back."""

from __future__ import annotations

import io
import re
from dataclasses import replace
from pathlib import Path

import openpyxl
import polars as pl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.cupping.again import cups_again
from pipeline.cupping.key import key_frame
from pipeline.cupping.page import write_page
from pipeline.cupping.plan import CuppingPlan, Wanted, plan_cupping, redraw
from pipeline.cupping.report import plan_report
from pipeline.cupping.samples import Chosen, Known, Sample, choose_samples
from pipeline.cupping.scales import scales_of
from pipeline.cupping.sheet import score_sheets
from pipeline.cupping.workbook import sheet_name, write_workbook
from pipeline.cupping.write import check_places, key_place, write_key, write_sheets
from pipeline.lab import load_settings
from pipeline.store.store import Store
from schemas.contracts import TABLES
from schemas.dtypes import stored_schema
from schemas.problem import ProblemError

NO_ATTRIBUTES = pl.DataFrame(schema={name: pl.String() for name in TABLES["attributes"].column_names})
HOSTILE = '<script>alert("x")</script> =1+1 \'[brews]:*?/\\ & co'


def coffees(n: int) -> Chosen:
    return Chosen(tuple(sorted(Sample("coffee", f"coffee-{k}") for k in range(n))), ())


def planned(n_coffees: int = 4, names: tuple[str, ...] = ("Ana", "Bo"), **options: object) -> CuppingPlan:
    return plan_cupping(coffees(n_coffees), replace(Wanted("s1", names, seed=7), **options))


def workbook_of(plan: CuppingPlan, scales=None) -> openpyxl.Workbook:
    file = io.BytesIO()
    (sheets,) = score_sheets(plan, scales or scales_of(NO_ATTRIBUTES, steps={}), "Caffeine.")
    write_workbook(sheets, file, "score-sheets.xlsx")
    return openpyxl.load_workbook(file)


def page_of(plan: CuppingPlan) -> str:
    file = io.BytesIO()
    write_page(score_sheets(plan, scales_of(NO_ATTRIBUTES, steps={}), "Caffeine."), file)
    return file.getvalue().decode()


def test_sheets_name_codes_and_never_what_is_in_the_cup_nor_the_seed() -> None:
    plan = planned(replicates=2, seed=918273)
    book = workbook_of(plan)
    texts = [str(cell) for page in book for row in page.iter_rows(values_only=True) for cell in row if cell is not None]
    everything = " ".join(texts) + page_of(plan)

    assert "coffee-" not in everything
    assert "918273" not in everything
    assert {cup.blind_code for one in plan.sittings for cup in one.cups} <= set(texts)
    # No replicate number either: it would tell that a cup comes back.
    assert "replicate" not in everything


def test_the_workbook_has_a_sheet_for_each_assessor_in_the_columns_of_tastings() -> None:
    plan = planned(3, ("Ana", "Bo", "Cy"))
    book = workbook_of(plan)

    assert book.sheetnames == ["1 Ana tastings", "2 Bo tastings", "3 Cy tastings", "How to", "Scales"]
    assert book["Scales"].sheet_state == "hidden"
    rows = list(book["2 Bo tastings"].iter_rows(values_only=True))
    assert set(rows[0]) < set(TABLES["tastings"].column_names)
    body = [dict(zip(rows[0], row, strict=True)) for row in rows[1:]]
    assert [row["blind_code"] for row in body[::3]] == list(plan.sittings[0].orders["Bo"])
    assert [row["attribute"] for row in body[:3]] == ["taste_balance", "taste_strength", "taste_uneven"]
    assert {row["score"] for row in body} == {None}


def test_drop_downs_offer_the_scale_of_their_own_row() -> None:
    page = workbook_of(planned(2, ("Ana",)))["1 Ana tastings"]

    rules = {str(rule.sqref): rule for rule in page.data_validations.dataValidation}
    assert rules["D2"].formula1 == "Scales!$A$1:$A$5"
    assert rules["D4"].formula1 == "Scales!$C$1:$C$2"
    assert rules["D2"].errorStyle in (None, "stop")
    scales = workbook_of(planned(2, ("Ana",)))["Scales"]
    assert [scales.cell(row, 1).value for row in range(1, 6)] == [-2, -1, 0, 1, 2]


def test_the_labs_own_attributes_rule_with_their_ends_in_words() -> None:
    table = pl.DataFrame(
        {
            "attribute": ["sweetness", "overall", "open"],
            "kind": ["intensity", "quality", "liking"],
            "low": [0.0, 6.0, None],
            "high": [10.0, 10.0, None],
            "better": [None, None, None],
            "notes": [None, "for its kind", None],
        }
    )
    sweet, overall, unlimited = scales_of(table, steps={})

    assert (len(sweet.choices), sweet.choices[1], sweet.meaning) == (21, 0.5, "0 none, 10 very strong")
    assert (len(overall.choices), overall.choices[1]) == (17, 6.25)
    assert overall.meaning == "6 poor, 10 excellent; for its kind"
    assert unlimited.choices == ()
    assert scales_of(table, steps={"sweetness": 2.0}, only=("sweetness",))[0].choices == (0, 2, 4, 6, 8, 10)
    with pytest.raises(ProblemError, match="Steps of 3 do not go into sweetness"):
        scales_of(table, steps={"sweetness": 3.0})
    with pytest.raises(ProblemError, match="no attribute body"):
        scales_of(table, steps={}, only=("body",))


def test_hostile_names_stay_text_on_paper_and_in_the_workbook() -> None:
    plan = planned(2, (HOSTILE, "=cmd()"))
    page, book = page_of(plan), workbook_of(plan)

    assert "<script" not in page
    assert "&lt;script&gt;" in page
    assert all(len(name) <= 31 and not re.search(r"[\[\]:*?/\\]", name) for name in book.sheetnames)
    sheet = book[book.sheetnames[1]]
    cell = sheet.cell(2, [one.value for one in sheet[1]].index("assessor") + 1)
    assert (cell.value, cell.data_type) == ("=cmd()", "s")


@settings(max_examples=40, deadline=None)
@given(name=st.text(min_size=1, max_size=60), place=st.integers(1, 500))
def test_any_name_gives_a_sheet_name_that_is_read_as_tastings(name: str, place: int) -> None:
    made = sheet_name(place, name)

    assert len(made) <= 31
    assert made.startswith(str(place))
    assert made.endswith(" tastings")
    assert not re.search(r"[\[\]:*?/\\']", made)


def test_milk_is_said_on_the_sheet() -> None:
    plan = planned(2, ("Ana",), served_as="milk", milk_g=120.0)
    rows = list(workbook_of(plan)["1 Ana tastings"].iter_rows(values_only=True))
    first = dict(zip(rows[0], rows[1], strict=True))

    assert (first["served_as"], first["milk_g"]) == ("milk", 120)
    assert "Served in milk: 120 g to a cup." in page_of(plan)
    assert set(key_frame(plan)["served_as"]) == {"milk"}


def test_the_same_seed_writes_the_same_bytes(tmp_path: Path) -> None:
    written = []
    for name in ("a", "b"):
        plan = planned(5, ("Ana", "Bo", "Cy"), n_sessions=2)
        write_sheets(score_sheets(plan, scales_of(NO_ATTRIBUTES, steps={}), "Caffeine."), tmp_path / name)
        write_key(plan, key_place(tmp_path / name))
        written.append([path.read_bytes() for path in sorted((tmp_path / name).iterdir())])
        written[-1].append(key_place(tmp_path / name).read_bytes())
    assert written[0] == written[1]
    assert len(written[0]) == 4


def test_codes_are_never_used_twice_in_a_plan_of_several_sessions_nor_from_earlier_ones() -> None:
    first = planned(6, n_sessions=3, replicates=2)
    codes = key_frame(first)["blind_code"].to_list()
    assert len(set(codes)) == len(codes) == 36
    later = plan_cupping(coffees(6), Wanted("s2", ("Ana",), seed=7), taken_codes=codes)
    assert not set(codes) & set(key_frame(later)["blind_code"])


def test_the_report_counts_and_tells_no_code_with_its_cup() -> None:
    report = plan_report(planned(4, ("Ana", "Bo", "Cy", "Di")))
    said = " ".join(line for part in report.parts for line in part.sentences)

    assert "4 coffees, 4 assessors: 4 cups to a palate at a sitting." in said
    assert "in each place once, and right after each other coffee once" in said
    assert "Seed 7" in said
    assert "coffee-0" not in str(report.data) + report.frame.write_csv()


@pytest.mark.parametrize(
    ("names", "said"),
    [((), "Who tastes"), (("Ana", "ana"), "two assessors of one name"), (("Ana", " "), "without a name")],
)
def test_assessors_must_be_told_apart(names: tuple[str, ...], said: str) -> None:
    with pytest.raises(ProblemError, match=said):
        planned(2, names)


def brews(**rows: dict[str, object]) -> Known:
    schema = stored_schema(TABLES["brews"])
    frame = pl.DataFrame([{"brew_id": name, **row} for name, row in rows.items()], schema=schema)
    return Known(frame, pl.DataFrame(schema=stored_schema(TABLES["coffees"])))


def test_what_is_known_of_brews_is_told() -> None:
    shot = {"dose_g": 18.0, "beverage_g": 36.0, "operator": "ana", "study_id": "june"}
    known = brews(b1=shot, b2={**shot, "discarded": True}, b3={**shot, "void_reason": "spilt"})
    chosen = choose_samples(known, study_id="june", brews=("b-1",))
    plan = plan_cupping(chosen, Wanted("s", ("Ana", "Bo", "Cy", "Di")))
    said = " ".join(plan.remarks)

    assert [one.id for one in plan.samples] == ["b-1", "b1", "b2"]
    assert "Not in the project folder yet: brew b-1. The key waits until they are ingested." in said
    assert "b2 is marked as poured away." in said
    assert "too little in the cup for all" in said  # 36 g for four palates of 10 ml
    assert "Ana brewed some of these cups" in said
    # 10 ml of 18 g in 36 g, twice, and of an unknown cup at 1 to 18: 14 * (5 + 5 + 10 / 18) mg.
    assert plan.caffeine.at_once_mg == pytest.approx(14 * (10 + 10 / 18))
    with pytest.raises(ProblemError, match="b3 is void"):
        choose_samples(known, brews=("b3",))
    with pytest.raises(ProblemError, match="No brew of study may"):
        choose_samples(known, study_id="may")
    with pytest.raises(ProblemError, match="What is to be tasted"):
        choose_samples(known)


def test_places_are_checked_before_anything_is_written(tmp_path: Path) -> None:
    out = tmp_path / "panel"
    out.mkdir()
    (out / "score-sheets.xlsx").write_text("scores")
    with pytest.raises(ProblemError, match="perhaps with scores in it"):
        check_places(out, None, 1)
    with pytest.raises(ProblemError, match="would get the key"):
        check_places(tmp_path / "new", tmp_path / "new" / "key.csv", 1)
    (tmp_path / "key.csv").write_text("")
    with pytest.raises(ProblemError, match="never replaced"):
        check_places(tmp_path / "new", tmp_path / "key.csv", 1)


def test_ids_that_spreadsheets_take_for_formulas_need_a_workbook(tmp_path: Path) -> None:
    plan = plan_cupping(Chosen((Sample("coffee", "=1+1"), Sample("coffee", "b")), ()), Wanted("s", ("Ana",)))
    with pytest.raises(ProblemError, match=r"--key FILE\.xlsx"):
        write_key(plan, tmp_path / "key.csv")
    write_key(plan, tmp_path / "key.xlsx")
    (page,) = openpyxl.load_workbook(tmp_path / "key.xlsx").worksheets
    assert [cell.value for cell in page["D"]].count("=1+1") == 1


def test_the_key_and_the_seed_give_the_sheets_of_the_plan_again(lab) -> None:
    plan = planned(5, ("Ana", "Bo", "Cy"), replicates=2, n_sessions=2)
    key = lab.drop / "panel-key-servings.csv"
    write_key(plan, key)
    settings_, store = load_settings(lab.dir), Store(lab.dir)
    from_file = cups_again(lab.dir, store, store.head(), settings_, key=key, session_id=None)
    lab.ingest(key)
    from_store = cups_again(lab.dir, store, store.head(), settings_, key=None, session_id="s1")

    for again in (from_file, from_store):
        drawn = redraw(again.sessions, Wanted("s1", ("Ana", "Bo", "Cy"), seed=7))
        assert [one.orders for one in drawn.sittings] == [one.orders for one in plan.sittings]
    one = cups_again(lab.dir, store, store.head(), settings_, key=key, session_id="s1-2")
    assert [name for name, _ in one.sessions] == ["s1-2"]
    with pytest.raises(ProblemError, match="No servings of a session june"):
        cups_again(lab.dir, store, store.head(), settings_, key=None, session_id="june")
    with pytest.raises(ProblemError, match="is no key"):
        cups_again(lab.dir, store, store.head(), settings_, key=lab.put("x.csv", "a,b\n1,2\n"), session_id=None)
    with pytest.raises(ProblemError, match="Correct the key first"):
        bad = lab.put("servings.csv", "session_id,blind_code,coffee_id\ns,472,\n")
        cups_again(lab.dir, store, store.head(), settings_, key=bad, session_id=None)
    with pytest.raises(ProblemError, match="code 472 stands on 2 rows"):
        twice = lab.put("servings 2.csv", "session_id,blind_code,coffee_id\ns,472,a\ns,472,b\n")
        cups_again(lab.dir, store, store.head(), settings_, key=twice, session_id=None)


def test_what_nobody_is_served_at_a_sitting_need_not_be_made() -> None:
    plan = planned(4, ("Ana",), n_sessions=2, most_cups=2)

    tasted = [set(one.orders["Ana"]) for one in plan.sittings]
    for one, codes in zip(plan.sittings, tasted, strict=True):
        left_out = sorted(cup.sample.id for cup in one.cups if cup.blind_code not in codes)
        assert f"At session {one.session_id} nobody is served {' and '.join(left_out)}" in " ".join(plan.remarks)
