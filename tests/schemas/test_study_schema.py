from __future__ import annotations

from schemas.study import Study, StudyFactor, Target

STUDY = Study(
    study_id="map",
    question="What does grinding finer do?",
    response="extraction_yield_pct",
    factors=(
        StudyFactor("grind_steps_finer", step=2.0, low=-4.0, high=4.0, curve=True),
        StudyFactor("water_temp_c", low=90.0),
        StudyFactor("channeled"),
    ),
    targets=(Target("tds_pct", 1.2, 1.4),),
)


def test_what_the_factors_say_is_read_off_by_column() -> None:
    assert STUDY.factor_names == ("grind_steps_finer", "water_temp_c", "channeled")
    assert STUDY.curves == ("grind_steps_finer",)
    assert STUDY.steps == {"grind_steps_finer": 2.0}


def test_half_a_range_is_no_range() -> None:
    assert STUDY.ranges == {"grind_steps_finer": (-4.0, 4.0)}


def test_a_target_is_found_by_its_response() -> None:
    assert STUDY.target("tds_pct") == Target("tds_pct", 1.2, 1.4)
    assert STUDY.target("extraction_yield_pct") is None
