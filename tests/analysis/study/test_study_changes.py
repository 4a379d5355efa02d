from __future__ import annotations

from dataclasses import replace

import pytest

from analysis.study.changes import changes
from schemas.lab import GrindReference
from schemas.study import Condition, Exclusion, Impossible, Study, StudyFactor, Target

BEFORE = Study(
    "map",
    "Why?",
    "extraction_yield_pct",
    method="espresso",
    coffees=("ostrin",),
    factors=(StudyFactor("water_temp_c", step=2.0, low=90.0, high=95.0), StudyFactor("dose_g", curve=True)),
    crosses=("dose_g:water_temp_c",),
    grind_reference=(GrindReference("ostrin", "bench", "espresso", "22"),),
    exclusions=(Exclusion("b-1", "spilt"),),
    difference_that_matters=0.5,
    targets=(Target("tds_pct", 8.0, 10.0),),
    impossible=(Impossible((Condition("dose_g", at_least=20.0),), "basket full"),),
)
WATER, DOSE = BEFORE.factors


def test_the_same_declaration_has_no_changes() -> None:
    assert changes(BEFORE, replace(BEFORE)) == ()


@pytest.mark.parametrize(
    ("after", "said"),
    [
        ({"question": "How?"}, 'question reworded, it was "Why?"'),
        ({"response": "tds_pct"}, "response changed from extraction_yield_pct to tds_pct"),
        ({"method": None}, "method changed from espresso to not declared"),
        ({"coffees": ("ostrin", "pirolo")}, "coffee added: pirolo"),
        ({"coffees": ()}, "coffee taken out: ostrin"),
        ({"factors": (*BEFORE.factors, StudyFactor("water_g"))}, "factor added: water_g"),
        (
            {"factors": (*BEFORE.factors, StudyFactor("bypass_g", curve=True))},
            "factor added: bypass_g, with its curve",
        ),
        ({"factors": (WATER,)}, "factor taken out: dose_g"),
        ({"factors": (replace(WATER, curve=True), DOSE)}, "curve of water_temp_c added"),
        ({"factors": (WATER, replace(DOSE, curve=False))}, "curve of dose_g taken out"),
        ({"factors": (replace(WATER, step=1.0), DOSE)}, "step of water_temp_c changed from 2 C to 1 C"),
        (
            {"factors": (replace(WATER, high=96.0), DOSE)},
            "range of water_temp_c changed from 90 to 95 C to 90 to 96 C",
        ),
        (
            {"factors": (WATER, replace(DOSE, levels=(17.0, 18.5)))},
            "levels of dose_g changed from not declared to 17, 18.5 g",
        ),
        ({"crosses": ()}, "cross taken out: dose_g:water_temp_c"),
        ({"blocks": ("session_id",)}, "block added: session_id"),
        ({"whole_plot": ("grinder_id",)}, "hard to change added: grinder_id"),
        (
            {"grind_reference": (GrindReference("ostrin", "bench", "espresso", "24"),)},
            "grind reference of ostrin on bench (espresso) changed from 22 to 24",
        ),
        ({"exclusions": (*BEFORE.exclusions, Exclusion("b-2", "cold"))}, "exclusion of b-2 added (cold)"),
        ({"exclusions": ()}, "exclusion of b-1 taken out"),
        ({"difference_that_matters": 0.3}, "difference that matters changed from 0.5 points to 0.3 points"),
        ({"targets": (Target("tds_pct", 8.0, 9.0),)}, "target for tds_pct changed from 8 to 10 % to 8 to 9 %"),
        ({"impossible": ()}, "settings declared impossible: dose_g at least 20 g taken out"),
    ],
)
def test_each_change_is_said_once(after: dict[str, object], said: str) -> None:
    assert changes(BEFORE, replace(BEFORE, **after)) == (said,)
