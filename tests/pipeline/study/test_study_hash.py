from __future__ import annotations

from dataclasses import fields, replace
from pathlib import Path

from pipeline.study.normal import study_sha256
from pipeline.study.read import studies_of
from schemas.lab import GrindReference
from schemas.study import Condition, Exclusion, Impossible, Study, StudyFactor, Target

STUDY = Study("a", "?", "tds_pct", factors=(StudyFactor("dose_g", low=0.0, high=9.0), StudyFactor("water_g")))


def test_how_the_file_is_written_does_not_count() -> None:
    tidy = b'[[study]]\nstudy_id = "a"\nquestion = "?"\nresponse = "tds_pct"\nblocks = ["site", "operator"]\n'
    other = b'# note\n[[study]]\nblocks = ["operator", "site"]\nresponse="tds_pct"\nquestion = "?"\nstudy_id = \'a\'\n'
    (first,), (second,) = (studies_of(raw, Path("study.toml")) for raw in (tidy, other))

    assert study_sha256(first) == study_sha256(second)


def test_the_order_of_factors_does_not_count() -> None:
    assert study_sha256(STUDY) == study_sha256(replace(STUDY, factors=STUDY.factors[::-1]))


def test_every_entry_of_a_study_counts() -> None:
    other = {
        "study_id": "b",
        "question": "!",
        "response": "dissolved_g",
        "method": "moka",
        "coffees": ("c",),
        "factors": (),
        "crosses": ("dose_g:water_g",),
        "blocks": ("site",),
        "whole_plot": ("site",),
        "grind_reference": (GrindReference("c", "g", "moka", "1"),),
        "exclusions": (Exclusion("b", "spilt"),),
        "difference_that_matters": 1.0,
        "targets": (Target("tds_pct", 0.0, 1.0),),
        "impossible": (Impossible((Condition("dose_g", 0.0),)),),
    }

    hashes = {study_sha256(replace(STUDY, **{name: value})) for name, value in other.items()}

    assert set(other) == {field.name for field in fields(Study)}
    assert len(hashes | {study_sha256(STUDY)}) == len(other) + 1


def test_a_declared_zero_is_not_an_undeclared_one() -> None:
    some, none = (replace(STUDY, factors=(StudyFactor("dose_g", low=low, high=9.0),)) for low in (0.0, None))

    assert study_sha256(some) != study_sha256(none)
