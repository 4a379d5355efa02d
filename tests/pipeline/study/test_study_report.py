"""The page of a study: everything declared is on it."""

from __future__ import annotations

import pytest

from analysis.study.apply import apply_study
from pipeline.facts import brew_facts
from pipeline.lab import load_settings
from pipeline.report import Report
from pipeline.store.store import Store
from pipeline.study.declared import declared
from pipeline.study.report import study_report
from schemas.lab import GrindReference
from schemas.study import Condition, Impossible, Study, StudyFactor, Target

LOG = """\
brew_id,brewed_at,study_id,coffee_id,method,grinder_id,grind_setting,dose_g,beverage_g,tds_pct,water_temp_c,void_reason
b-1,2026-05-01,map,ostrin,espresso,bench,20,18,36,9,92,
b-2,2026-05-01,map,ostrin,espresso,bench,22,18,36,9,,
b-3,2026-05-01,map,ostrin,espresso,bench,22,18,36,9,93,spilt
"""
FULL = Study(
    "map",
    "What does the dose do?",
    "extraction_yield_pct",
    method="espresso",
    factors=(StudyFactor("water_temp_c", curve=True), StudyFactor("channeled"), StudyFactor("dose_g", step=0.5)),
    crosses=("dose_g:water_temp_c",),
    blocks=("session_id", "operator"),
    whole_plot=("grinder_id",),
    grind_reference=(GrindReference("ostrin", "bench", "espresso", "20"),),
    difference_that_matters=0.5,
    targets=(Target("tds_pct", 8.0, 10.0),),
    impossible=(Impossible((Condition("dose_g", at_least=21.0),), "the basket is full"),),
)


@pytest.fixture
def page(lab):
    lab.take("brews.csv", LOG)
    store = Store(lab.dir)
    facts = brew_facts(store, store.head(), load_settings(lab.dir))

    def made(study: Study) -> Report:
        return study_report(apply_study(facts, study), declared(store, store.head(), study), timezone="UTC")

    return made


def test_everything_declared_is_said(page) -> None:
    about, *_ = page(FULL).parts

    assert about.title == "Study map"
    assert list(about.sentences) == [
        "What does the dose do?",
        "To explain: extraction_yield_pct, espresso.",
        "Coffees: all.",
        "Blocks: session_id, operator.",
        "Hard to change between brews: grinder_id.",
        "Together: dose_g:water_temp_c.",
        "A difference that matters: 0.5 points.",
        "Target: tds_pct 8 to 10 %.",
        "The kit cannot brew dose_g at least 21 g (the basket is full).",
        "Grind zero frozen: ostrin on bench at 20.",
    ]


def test_void_brews_are_counted_apart(page) -> None:
    brews = page(FULL).parts[2]

    assert "1 brew of the study is void; no analysis uses them." in brews.sentences


def test_each_setting_has_a_row_and_counts_the_brews_that_have_it(page) -> None:
    report = page(FULL)

    assert list(report.parts[3].rows) == [
        ("water_temp_c", "1 C", "", "92 to 93 C", "2", "", "slope and curve"),
        ("channeled", "yes against no", "", "", "0", "", "difference"),
        ("dose_g", "0.5 g", "", "18 g", "3", "", "slope"),
    ]
    assert report.frame["n_brews"].to_list() == [2, 0, 3]
    assert report.frame["n_outside"].to_list() == [None, None, None]


def test_a_study_without_factors_has_no_table_of_settings(page) -> None:
    report = page(Study("map", "?", "tds_pct"))

    assert [part.title for part in report.parts] == ["Study map", "Declared before the data?", "Brews"]
    assert "To explain: tds_pct, any method." in report.parts[0].sentences
    assert report.frame.is_empty()
