"""Every derived column worked out on paper at least once."""

import math
from datetime import UTC, date, datetime

import polars as pl
import pytest

from schemas.columns import COLUMNS
from schemas.dtypes import frame_schema
from schemas.lab import GrindReference, LabSettings
from schemas.reports import DERIVED_FACT_COLUMNS, FACT_COLUMNS

ESPRESSO = {
    "brew_id": "e1",
    "water_g": 60.0,
    "scale_id": "S1",
    "scale_standard_uncertainty": 0.05,
    "scale_resolution": 0.1,
    "roast_level": "light",
    "moisture_pct": 4.0,
    "frozen_days": 3,
    "grinder_id": "g1",
    "grind_setting": "2.5.1",
    "dial": "10.5",
    "finer_is": "lower",
    "step_um": 50.0,
    "channeling": "slight",
    "planned_dose_g": 18.0,
    "planned_water_g": 54.0,
    "planned_beverage_g": 37.8,
    "brewed_at": datetime(2026, 3, 2, 23, 30, tzinfo=UTC),
}
R1 = {"instrument_id": "R1", "standard_uncertainty": 0.02, "resolution": 0.01, "brew_id": "e1"}
READINGS = [R1 | {"reading_no": 1, "tds_pct": 9.9}, R1 | {"reading_no": 2, "tds_pct": 10.1}]
TARGETS = [
    {"target_id": "t1", "quantity": "extraction_yield_pct", "low": 18.0, "high": 20.0},
    {"target_id": "t2", "quantity": "beverage_ratio", "low": 2.1, "high": 2.3},
]
LAB = LabSettings(timezone="Europe/Oslo", grind_references=(GrindReference("c1", "g1", "espresso", "3.0.0"),))

# s^2 = 0.02 (two readings 0.2 apart); u^2 = 0.02/2 + 0.02^2 + 0.01^2/12.
U_TDS = math.sqrt(0.01 + 0.0004 + 0.0001 / 12)
U_MASS_2 = 0.05**2 + 2 * 0.1**2 / 12  # tare and load: the display is read twice
U_YIELD_2 = (2 * U_TDS) ** 2 + ((10 / 18) ** 2 + (20 / 18) ** 2) * U_MASS_2
T_1 = math.tan(0.475 * math.pi)  # Student's t with one degree of freedom is Cauchy's distribution: 12.7062
BY_HAND = {
    "coffee_name": "Coffee one",
    "roast_level": "light",
    "days_off_roast": 8,  # 20 February to 3 March 2026 is 11 days, 3 of them frozen
    "n_readings": 2,
    "tds_pct": 10.0,
    "tds_sd_pct": math.sqrt(0.02),
    "tds_u_pct": U_TDS,
    "cup_tds_pct": 10.0,
    "dissolved_g": 3.6,
    "extraction_yield_pct": 20.0,
    # d/dt = 36/18 points per %, d/dM = 10/18 and d/dD = -20/18 points per g
    "extraction_yield_u_pct": math.sqrt(U_YIELD_2),
    "u_note": "scatter of readings on R1 judged from 1 repeat only",
    "extraction_yield_dry_pct": 20.0 / 0.96,
    "balance_used": "percolation",
    "water_ratio": 60 / 18,
    "beverage_ratio": 2.0,
    "total_water_ratio": 60 / 18,
    "retained_g": 60 - 36 * 0.9,
    "retained_ratio": (60 - 36 * 0.9) / 18,
    "grind_steps_finer": 0.48,
    "grind_zero": 3.0,
    "grind_reference_note": "declared: 3.0.0",
    "grind_um_finer": 24.0,
    "channeled": True,
    "in_target_recipe": False,
    "in_target_cup": True,
    "in_target": False,
    "is_void": False,
    "brewed_on": date(2026, 3, 3),  # 00:30 in Oslo
    "brewed_at_is_date": False,
    "grind_dial": 2.52,
    "source_file": "log.csv",
    "sheet": None,
    "line": 2,
    # JCGM 100, G.2b: u^4 over (slope 2, scatter of the mean of two 0.1)^4 and one degree of freedom, 1.4, cut to 1
    "extraction_yield_df": U_YIELD_2**2 / (2 * 0.1) ** 4,
    "extraction_yield_k": T_1,
    "extraction_yield_expanded_u_pct": T_1 * math.sqrt(U_YIELD_2),
    "main_uncertainty": f"TDS {100 * (2 * U_TDS) ** 2 / U_YIELD_2:.0f} %",
    "correction_note": None,
    "planned_water_ratio": 54 / 18,
    "planned_beverage_ratio": 2.1,
}


def test_the_example_covers_every_derived_column():
    assert tuple(BY_HAND) == DERIVED_FACT_COLUMNS


@pytest.mark.parametrize("column", DERIVED_FACT_COLUMNS)
def test_an_espresso_worked_out_on_paper(fact_of, column):
    found = fact_of(ESPRESSO, READINGS, targets=TARGETS, settings=LAB)[column]

    expected = BY_HAND[column]
    assert found == (pytest.approx(expected, rel=1e-12) if isinstance(expected, float) else expected)


def test_facts_have_the_declared_columns_and_types(facts_of):
    schema = frame_schema([COLUMNS[name] for name in FACT_COLUMNS])
    assert facts_of([ESPRESSO], READINGS).schema == pl.Schema(schema)
    assert facts_of([]).schema == pl.Schema(schema)


def test_rows_are_sorted_by_time_then_run_order_then_line_then_id(facts_of):
    late, early = datetime(2026, 3, 5, tzinfo=UTC), datetime(2026, 3, 1, tzinfo=UTC)
    facts = facts_of(
        [
            {"brew_id": "z", "brewed_at": late},
            {"brew_id": "y", "brewed_at": early, "run_order": 2},
            {"brew_id": "x", "brewed_at": early, "run_order": 1},
            {"brew_id": "w", "brewed_at": early},
            {"brew_id": "v", "brewed_at": early, "line": 5},
        ]
    )
    assert facts["brew_id"].to_list() == ["x", "y", "v", "w", "z"]


def test_a_brew_without_readings_keeps_its_recipe_facts(fact_of):
    fact = fact_of({"water_g": 60.0})
    assert fact["n_readings"] == 0
    assert fact["beverage_ratio"] == 2.0
    empty = ("tds_pct", "tds_sd_pct", "tds_u_pct", "cup_tds_pct", "dissolved_g", "extraction_yield_pct", "retained_g")
    assert [fact[name] for name in empty] == [None] * len(empty)
    assert fact["extraction_yield_u_pct"] is None
    assert fact["u_note"] is None


@pytest.mark.parametrize(("seen", "channeled"), [("none", False), ("slight", True), ("severe", True), (None, None)])
def test_channeled(fact_of, seen, channeled):
    assert fact_of({"channeling": seen})["channeled"] is channeled


def test_days_off_roast_is_null_without_a_date(fact_of):
    assert fact_of({"roasted_on": None})["days_off_roast"] is None
