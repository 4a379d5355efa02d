from __future__ import annotations

import polars as pl
import pytest

from analysis.study.apply import StudyRows, apply_study
from schemas.columns import COLUMNS
from schemas.dtypes import frame_schema
from schemas.reports import FACT_COLUMNS
from schemas.study import Condition, Exclusion, Impossible, Study, StudyFactor

SCHEMA = frame_schema([COLUMNS[name] for name in FACT_COLUMNS])
TEMPS = (88.0, 90.0, 92.0, None, 95.0)


def facts(*, study_id: str | None = "map", **columns: object) -> pl.DataFrame:
    rows = {
        "brew_id": [f"b-{n}" for n in range(1, 6)],
        "study_id": [study_id] * 5,
        "method": ["espresso"] * 5,
        "coffee_id": ["ostrin", "ostrin", "pirolo", "pirolo", "pirolo"],
        "water_temp_c": TEMPS,
        "dose_g": [18.0] * 5,
        "is_void": [False] * 5,
        **columns,
    }
    return pl.DataFrame({name: rows.get(name, [None] * 5) for name in FACT_COLUMNS}, schema=SCHEMA)


def study(**declared: object) -> Study:
    return Study(**{"study_id": "map", "question": "?", "response": "tds_pct", "method": "espresso", **declared})


def ids(rows: StudyRows) -> list[str]:
    return rows.brews["brew_id"].to_list()


def test_the_brews_that_carry_the_study_s_id_are_its_brews() -> None:
    log = facts().with_columns(study_id=pl.Series(["map", "map", "x", "", None]))

    found = apply_study(log, study())

    assert (found.found_by, ids(found)) == ("study_id", ["b-1", "b-2"])
    # The fourth brew carries an empty id, the fifth none; the fifth alone is without.
    assert found.said == (
        "2 brews with study_id map. 1 other brew like these carries no study_id, so not counted here; without --study "
        "all count.",
    )


def test_where_none_carries_it_those_of_method_and_coffees_stand_in() -> None:
    log = facts(study_id=None, method=["espresso", "espresso", "espresso", "moka", "espresso"])

    found = apply_study(log, study(coffees=("pirolo",)))

    assert (found.found_by, ids(found)) == ("method and coffees", ["b-3", "b-5"])
    assert found.said[0] == (
        "No brew carries study_id map: all brews of espresso and of pirolo stand in for it (2 brews)."
    )


def test_brews_of_the_study_with_another_method_or_coffee_are_left_out_and_counted() -> None:
    log = facts(method=["espresso", "moka", "espresso", "espresso", "espresso"])

    found = apply_study(log, study(coffees=("ostrin",)))

    assert ids(found) == ["b-1"]
    assert found.n_before == 5
    assert found.left_out == {"of another method than espresso": 1, "of a coffee that the study does not name": 3}
    assert found.left_out_ids["of another method than espresso"] == ("b-2",)
    assert found.said[1].startswith("4 of 5 brews left out: 1 of another method than espresso, 3 of a coffee")


def test_an_excluded_brew_is_left_out_with_its_reason() -> None:
    exclusions = (Exclusion("b-2", "spilt"), Exclusion("b-5", "spilt"), Exclusion("b-1", "wrong basket"))

    found = apply_study(facts(), study(exclusions=exclusions))

    assert ids(found) == ["b-3", "b-4"]
    assert found.left_out == {"excluded (spilt)": 2, "excluded (wrong basket)": 1}
    assert found.excluded == exclusions


def test_an_exclusion_that_meets_nothing_is_said() -> None:
    log = facts().with_columns(study_id=pl.Series(["map", "map", "map", "map", "other"]))

    found = apply_study(log, study(exclusions=(Exclusion("b_2", "spilt"), Exclusion("b-5", "spilt"))))

    assert ids(found) == ["b-1", "b-2", "b-3", "b-4"]
    assert found.left_out == {}
    assert found.notes == (
        "b_2 is excluded, and the log has no such brew. Did you mean b-2?",
        "b-5 is excluded, and is no brew of this study.",
    )


def test_coffees_without_brews_are_said() -> None:
    log = facts().with_columns(study_id=pl.Series(["map", "map", None, None, None]))

    found = apply_study(log, study(coffees=("ostrin", "pirolo", "ostrn")))

    assert found.notes == (
        "The study names the coffee pirolo, and has no brew of it yet.",
        "The study names the coffee ostrn, and the log has no brew of it. Did you mean ostrin?",
    )


def test_settings_outside_the_declared_range_are_named() -> None:
    factors = (StudyFactor("water_temp_c", low=90.0, high=94.0), StudyFactor("dose_g"), StudyFactor("channeled"))

    found = apply_study(facts(), study(factors=factors))

    temperature, dose = found.ranges
    assert (temperature.brewed_low, temperature.brewed_high, temperature.n_values) == (88.0, 95.0, 4)
    assert temperature.outside == ("b-1", "b-5")
    assert dose.outside == ()
    assert found.notes == ("water_temp_c went outside the declared range 90 to 94 C in 2 brews: b-1, b-5.",)


def test_an_end_of_the_range_reached_by_arithmetic_is_inside() -> None:
    log = facts(beverage_ratio=[0.1 + 0.2] * 5)

    found = apply_study(log, study(factors=(StudyFactor("beverage_ratio", low=0.1, high=0.3),)))

    assert found.ranges[0].outside == ()


@pytest.mark.parametrize(
    ("conditions", "brewed"),
    [
        ((Condition("water_temp_c", at_least=92.0),), "water_temp_c at least 92 C): b-3, b-5."),
        ((Condition("water_temp_c", 89.0, 91.0), Condition("dose_g", at_most=18.0)), "dose_g at most 18 g): b-2."),
    ],
)
def test_settings_declared_impossible_and_yet_brewed_are_named(conditions: tuple[Condition, ...], brewed: str) -> None:
    factors = (StudyFactor("water_temp_c"), StudyFactor("dose_g"))

    found = apply_study(facts(), study(factors=factors, impossible=(Impossible(conditions),)))

    assert found.notes[0].startswith("Declared impossible, yet brewed (")
    assert found.notes[0].endswith(brewed)


def test_a_study_without_any_brew_is_empty_and_says_so() -> None:
    found = apply_study(facts().clear(), study())

    assert found.brews.is_empty()
    assert found.said[0] == "No brew carries study_id map: all brews of espresso stand in for it (0 brews)."
