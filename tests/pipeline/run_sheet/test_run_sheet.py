"""The run sheet: it goes straight back in under its study, prints without scripts, and takes few keys to fill in."""

from __future__ import annotations

import re

import numpy as np
import openpyxl
import pytest

from analysis.planning.dialled import Dial
from analysis.planning.factors import PlanFactor
from analysis.planning.plan import make_plan
from analysis.planning.request import PlanRequest
from analysis.planning.sheet import Recipe, sheet_rows
from pipeline.facts import brew_facts
from pipeline.lab import load_settings
from pipeline.run_sheet.compare import kept_report
from pipeline.run_sheet.read import read_planned
from pipeline.run_sheet.sheet import RunSheet
from pipeline.run_sheet.workbook import columns_of
from pipeline.run_sheet.write import write_sheet
from pipeline.store.store import Store
from schemas.contracts import TABLES
from schemas.problem import ProblemError

FACTORS = (PlanFactor("grind_steps_finer", -1, 1, 0.5), PlanFactor("beverage_ratio", 1.8, 2.4, 0.1))
SECONDS_A_KEY = 0.28
SECONDS_A_CELL = 1.35
"""Typing and mental preparation in the keystroke-level model: Card, Moran and Newell 1980 (from memory)."""


def run_sheet(*, method: str = "espresso", coffee: str = "ostrin", study_id: str = "june") -> RunSheet:
    request = PlanRequest(FACTORS, (coffee, "calmuth"), method, replicates=2, sessions=2)
    plan = make_plan(request, rng=np.random.default_rng(3))
    dial = Dial("bench", "lower", None, {coffee: 7.5, "calmuth": 8.25})
    rows = sheet_rows(plan, Recipe({"dose_g": 18.0, "water_temp_c": 93.0}), dial, study_id=study_id)
    return RunSheet(study_id, method, rows, seed=3, notes=("a remark & more",))


def fill(path, sheet: RunSheet, *, brews: int) -> dict[str, str]:
    """Type the first brews as a barista would; what was typed into the first row, by column."""
    book = openpyxl.load_workbook(path)
    page = book["brews"]
    place = {cell.value: cell.column for cell in page[1]}
    first: dict[str, str] = {}
    done = 0
    for row in range(2, page.max_row + 1):
        if page.cell(row, place["void_reason"]).value is not None or done == brews:
            continue
        done += 1
        asked = page.cell(row, place["planned_beverage_g"]).value
        typed = {
            "brewed_at": f"2026-05-04 09:{done:02}", "dose_g": 18.1, "beverage_g": round(asked + 0.2, 1),
            "tds_pct": round(8.5 + 0.1 * done, 2), "channeling": "slight" if done == 2 else "none",
        }  # fmt: skip
        assert tuple(typed) == sheet.typed
        first = first or {name: str(value) for name, value in typed.items()}
        for name, value in typed.items():
            page.cell(row, place[name]).value = value
    book.save(path)
    return first


def test_a_half_filled_sheet_goes_back_in_and_is_compared(lab):
    sheet, path = run_sheet(), lab.drop / "june.xlsx"
    write_sheet(sheet, path)
    fill(path, sheet, brews=10)
    lab.put("grinders.csv", "grinder_id,finer_is\nbench,lower\n")

    report = lab.ingest(lab.drop)

    entry = next(entry for entry in report.entries if entry.table == "brews")
    assert (entry.taken_in, entry.set_aside, entry.unknown_columns) == (10, 0, ())
    assert entry.blank == entry.rows_read - 10
    assert entry.adds_up
    store = Store(lab.dir)
    facts = brew_facts(store, store.head(), load_settings(lab.dir))
    assert facts["study_id"].unique().to_list() == ["june"]
    assert facts["grind_setting"].to_list() == facts["planned_grind_setting"].to_list()
    ratio = facts["planned_beverage_g"] / facts["planned_dose_g"]
    assert set(ratio.round(2)) <= {1.8, 2.4}
    planned = read_planned(path, lab.dir, load_settings(lab.dir))
    assert planned.height == 16
    kept = kept_report(planned, facts, None)
    assert "10 of 16 planned brews were brewed." in kept.parts[0].sentences
    assert kept.data["missed"] == [f"june-{k}" for k in range(11, 17)]


def test_a_row_is_typed_in_under_twenty_seconds(lab):
    sheet, path = run_sheet(), lab.drop / "june.xlsx"
    write_sheet(sheet, path)
    typed = fill(path, sheet, brews=1)

    # The word for channeling is chosen from the list: two keys. A key more leaves each cell.
    keys = sum(2 if name == "channeling" else len(text) for name, text in typed.items()) + len(typed)
    seconds = keys * SECONDS_A_KEY + len(typed) * SECONDS_A_CELL

    assert len(typed) == 5
    assert seconds < 20


def test_what_is_typed_stands_together_and_has_its_lists(tmp_path):
    sheet = run_sheet()
    write_sheet(sheet, tmp_path / "s.xlsx")
    page = openpyxl.load_workbook(tmp_path / "s.xlsx")["brews"]

    heads = [cell.value for cell in page[1]]
    assert tuple(heads) == columns_of(sheet)
    start = heads.index("brewed_at")
    assert tuple(heads[start : start + 5]) == sheet.typed
    known = {*TABLES["brews"].column_names, *TABLES["readings"].column_names}
    assert set(heads) <= known
    lists = {
        heads[area.min_col - 1]: rule.formula1
        for rule in page.data_validations.dataValidation
        for area in rule.sqref.ranges
    }
    assert lists["channeling"] == '"none,slight,severe"'
    assert page.freeze_panes == "B2"
    for row in page.iter_rows(min_row=2, values_only=True):
        cells = dict(zip(heads, row, strict=True))
        assert all(cells[name] is None for name in sheet.typed)
        assert isinstance(cells["grind_setting"], str)


@pytest.mark.parametrize(
    ("method", "typed"),
    [
        ("espresso", ("brewed_at", "dose_g", "beverage_g", "tds_pct", "channeling")),
        ("immersion", ("brewed_at", "dose_g", "water_g", "tds_pct", "channeling")),
    ],
)
def test_the_method_says_which_weights_are_typed(method, typed):
    assert run_sheet(method=method).typed == typed


def test_a_page_of_water_ratios_asks_for_the_water_too():
    factors = (PlanFactor("water_ratio", 15, 17, 0.5),)
    plan = make_plan(PlanRequest(factors, ("ostrin",), "pour_over"), rng=np.random.default_rng(1))
    sheet = RunSheet("w", "pour_over", sheet_rows(plan, Recipe({"dose_g": 15.0}), None, study_id="w"), seed=1)

    assert sheet.typed == ("brewed_at", "dose_g", "water_g", "beverage_g", "tds_pct", "channeling")
    assert {row.cells["planned_water_g"] for row in sheet.rows} == {225.0, 255.0}


def test_the_page_is_escaped_has_no_script_and_carries_the_cautions(tmp_path):
    sheet = run_sheet(coffee="<b>ostrin</b>", study_id="a&b")
    write_sheet(sheet, tmp_path / "s.html")
    page = (tmp_path / "s.html").read_text(encoding="utf-8")

    assert "<script" not in page
    assert "<b>ostrin</b>" not in page
    assert "&lt;b&gt;ostrin&lt;/b&gt;" in page
    assert "a&amp;b" in page
    assert "default-src 'none'" in page
    assert "a remark &amp; more" in page
    for words in ("burn", "pressurised", "local codes", "licensed", "400 mg a day", "EFSA 2015"):
        assert words in page
    assert re.search(r"@page \{ size: A4", page)
    assert page.count('class="purge"') == sum(row.purge for row in sheet.rows)
    assert page.count('class="box"') == sheet.n_brews
    assert page.count("<table>") == 2


def test_the_workbook_says_how_to_and_cautions(tmp_path):
    write_sheet(run_sheet(), tmp_path / "s.xlsx")
    page = openpyxl.load_workbook(tmp_path / "s.xlsx")["How to"]
    said = "\n".join(str(cell.value) for row in page for cell in row)

    for words in ("from top to bottom", "purge", "type over it", "brewtrials ingest s.xlsx", "burn", "EFSA", "Seed 3"):
        assert words in said


def test_the_same_plan_gives_the_same_bytes(tmp_path):
    for suffix in (".xlsx", ".html"):
        for name in ("a", "b"):
            write_sheet(run_sheet(), tmp_path / f"x{suffix}")
            (tmp_path / f"x{suffix}").rename(tmp_path / f"{name}{suffix}")
        assert (tmp_path / f"a{suffix}").read_bytes() == (tmp_path / f"b{suffix}").read_bytes()


def test_nothing_is_overwritten_and_odd_names_are_refused(tmp_path):
    (tmp_path / "s.xlsx").write_text("filled in")

    for name, words in (("s.xlsx", "exists already"), ("s.csv", "should end in"), ("no/s.xlsx", "no folder")):
        with pytest.raises(ProblemError, match=words):
            write_sheet(run_sheet(), tmp_path / name)
    assert (tmp_path / "s.xlsx").read_text() == "filled in"


def test_a_file_that_is_no_run_sheet_is_refused(lab):
    path = lab.put("brews.csv", "brew_id,brewed_at,coffee_id,method,dose_g\nb,2026-05-04,ostrin,espresso,18\n")
    settings = load_settings(lab.dir)

    with pytest.raises(ProblemError, match="is no run sheet"):
        read_planned(path, lab.dir, settings)
    with pytest.raises(ProblemError, match="There is no file"):
        read_planned(lab.drop / "none.xlsx", lab.dir, settings)
