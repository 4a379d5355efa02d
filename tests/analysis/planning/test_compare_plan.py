"""Planned against brewed: missed, changed, out of order, and what nobody planned."""

from __future__ import annotations

from datetime import datetime, timedelta

import polars as pl
import pytest

from analysis.planning.compare import compare_plan

START = datetime(2026, 5, 4, 9)
PLANNED_ROWS = pl.DataFrame(
    {
        "brew_id": [f"june-{k}" for k in range(1, 7)],
        "study_id": ["june"] * 6,
        "session_id": ["s1", "s1", "s1", "s2", "s2", "s2"],
        "run_order": [1.0, 2.0, 3.0, 1.0, 2.0, 3.0],
        "coffee_id": ["ostrin"] * 6,
        "planned_grind_setting": ["7", "8", "7", "8", "7", "8"],
        "planned_water_temp_c": [90.0, 96.0, 93.0, 90.0, 93.0, 96.0],
        "planned_dose_g": [18.0] * 6,
        "planned_beverage_g": [36.0] * 6,
    }
)


def brewed(changes: dict[str, dict[str, object]] | None = None, *, n: int = 6, more: int = 0) -> pl.DataFrame:
    """Facts of the first `n` rows as planned, but for the changes by brew, and `more` brews nobody planned."""
    rows = []
    for k, plan in enumerate(PLANNED_ROWS.head(n).to_dicts()):
        row = {
            "brew_id": plan["brew_id"],
            "study_id": "june",
            "coffee_id": "ostrin",
            "brewed_at": START + timedelta(minutes=10 * k),
            "brewed_at_is_date": False,
            "is_void": False,
            "grind_setting": plan["planned_grind_setting"],
            "water_temp_c": plan["planned_water_temp_c"],
            "dose_g": 18.1,
            "beverage_g": 36.4,
        }
        rows.append(row | (changes or {}).get(plan["brew_id"], {}))
    rows += [rows[0] | {"brew_id": f"extra-{k}"} for k in range(more)]
    return pl.DataFrame(rows)


def test_a_plan_that_was_kept_says_so() -> None:
    kept = compare_plan(PLANNED_ROWS, brewed(), study_id="june")

    assert (kept.missed, kept.off_plan, kept.unplanned, kept.void) == ((), (), (), ())
    assert kept.order_kept == {"s1": True, "s2": True}
    assert kept.sentences() == (
        "6 of 6 planned brews were brewed.",
        "Every setting was as planned, to what the kit can do.",
        "The random order was kept.",
    )


def test_missed_void_and_unplanned_brews_are_named() -> None:
    kept = compare_plan(PLANNED_ROWS, brewed({"june-2": {"is_void": True}}, n=4, more=1), study_id="june")

    assert kept.missed == ("june-5", "june-6")
    said = kept.sentences()
    assert "Not brewed: june-5 and june-6." in said
    assert "Void: june-2." in said
    assert "Under this study but not on the sheet: extra-0." in said


@pytest.mark.parametrize(
    ("change", "column"),
    [
        ({"grind_setting": "8"}, "grind_setting"),
        ({"water_temp_c": 92.0}, "water_temp_c"),  # half way to the next planned level is 1.5 C
        ({"dose_g": 18.4}, "dose_g"),  # the same recipe: within 0.3 g
        ({"beverage_g": 38.0}, "beverage_g"),  # the same recipe: within 5 %
        ({"coffee_id": "calmuth"}, "coffee_id"),
    ],
)
def test_a_setting_off_plan_is_found(change: dict[str, object], column: str) -> None:
    kept = compare_plan(PLANNED_ROWS, brewed({"june-1": change}), study_id="june")

    assert [(one.brew_id, one.column) for one in kept.off_plan] == [("june-1", column)]
    assert "Brewed at other settings than planned: june-1." in kept.sentences()


@pytest.mark.parametrize(
    "change",
    [
        {"grind_setting": "7.0"},
        {"water_temp_c": 91.4},
        {"water_temp_c": None},
        {"dose_g": 17.75},
        {"beverage_g": 34.3},
    ],
)
def test_what_kit_and_weighing_scale_leave_open_is_as_planned(change: dict[str, object]) -> None:
    assert compare_plan(PLANNED_ROWS, brewed({"june-1": change}), study_id="june").off_plan == ()


def test_a_step_of_the_study_narrows_what_is_as_planned() -> None:
    facts = brewed({"june-1": {"water_temp_c": 91.4}})

    assert compare_plan(PLANNED_ROWS, facts, study_id="june", steps={"water_temp_c": 1.0}).off_plan != ()


def test_an_order_that_was_not_kept_is_said_with_what_it_means() -> None:
    swapped = {"june-1": {"brewed_at": START + timedelta(minutes=15)}}

    kept = compare_plan(PLANNED_ROWS, brewed(swapped), study_id="june")

    assert kept.order_kept == {"s1": False, "s2": True}
    assert "The random order was not kept in s1: a drift" in kept.sentences()[-1]


def test_bare_days_leave_the_order_open() -> None:
    days = {f"june-{k}": {"brewed_at_is_date": True} for k in (4, 5, 6)}

    kept = compare_plan(PLANNED_ROWS, brewed(days), study_id="june")

    assert kept.order_kept == {"s1": True, "s2": None}
    assert kept.sentences()[-1].startswith("Only days were noted in s2")
    assert "The random order was kept." not in kept.sentences()
