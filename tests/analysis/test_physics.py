"""Hard rules of mass and yield."""

import polars as pl
import pytest

from analysis.physics import physics_reasons, reading_reasons
from schemas.contracts import TABLES
from schemas.dtypes import frame_schema
from schemas.lab import LabSettings
from schemas.reports import REASON_SCHEMA

SCHEMAS = {
    name: {"line": pl.Int64()} | frame_schema(list(TABLES[name].columns.values())) for name in ("brews", "readings")
}
SHOT = {"brew_id": "b1", "line": 2, "coffee_id": "c1", "method": "espresso", "dose_g": 18.0, "beverage_g": 36.0}
STEEP = {"brew_id": "b1", "line": 2, "coffee_id": "c1", "method": "immersion", "dose_g": 15.0, "water_g": 225.0}


def frame(table, rows):
    return pl.DataFrame([{name: row.get(name) for name in SCHEMAS[table]} for row in rows], schema=SCHEMAS[table])


def reasons(brew, readings=(), **more):
    strength = [{"brew_id": brew["brew_id"], "line": brew["line"]} | reading for reading in readings]
    return physics_reasons(frame("brews", [brew]), frame("readings", strength), **more)


def rules(brew, readings=(), **more):
    return reasons(brew, readings, **more)["rule"].to_list()


def test_reasons_have_the_shape_that_parsing_gives():
    assert reasons(SHOT).schema == pl.Schema(REASON_SCHEMA)


@pytest.mark.parametrize(
    ("brew", "broken"),
    [
        (SHOT | {"water_g": 18.0}, False),
        (SHOT | {"water_g": 17.9}, True),
        # 10.1 + 20.2 is a float digit short of 30.3
        (SHOT | {"dose_g": 10.1, "water_g": 20.2, "beverage_g": 30.3}, False),
        (SHOT | {"water_g": None, "beverage_g": 900.0}, False),
        (SHOT | {"water_g": 10.0, "bypass_g": 20.0, "bypass_included": True}, False),
        (SHOT | {"water_g": 10.0, "bypass_g": 20.0, "bypass_included": False}, True),
        (SHOT | {"water_g": 10.0, "bypass_g": 20.0}, False),
        (SHOT | {"water_g": 10.0, "bypass_g": 7.0}, True),
        (SHOT | {"water_g": 10.0, "void_reason": "typing"}, False),
        (STEEP | {"beverage_g": 900.0}, False),
        (STEEP | {"beverage_g": 900.0, "mass_balance": "percolation"}, True),
    ],
)
def test_a_percolated_beverage_cannot_outweigh_what_went_in(brew, broken):
    assert rules(brew) == (["beverage_exceeds_water"] if broken else [])


def test_the_reason_says_what_and_by_how_much():
    reason = reasons(SHOT | {"water_g": 10.0}).row(0, named=True)
    assert (reason["line"], reason["table"], reason["column"], reason["value"]) == (2, "brews", "beverage_g", "36")
    assert reason["message"] == "beverage_g 36 g is more than water and dose together (28 g)."


@pytest.mark.parametrize(
    ("brew", "column"),
    [
        (SHOT | {"beverage_g": None}, "beverage_g"),
        (SHOT | {"mass_balance": "immersion"}, "water_g"),
        (STEEP | {"water_g": None}, "water_g"),
        (STEEP | {"mass_balance": "percolation"}, "beverage_g"),
    ],
)
def test_the_mass_that_the_balance_needs(brew, column):
    reason = reasons(brew).row(0, named=True)
    assert (reason["rule"], reason["column"], reason["value"]) == ("missing_mass", column, None)
    assert rules(brew | {"void_reason": "not weighed"}) == []


@pytest.mark.parametrize(
    ("brew", "tds", "broken"),
    [
        (SHOT, [20.0], False),  # 36 * 20 / 18 = 40 %
        (SHOT, [20.1], True),
        (SHOT, [10.0, 20.1], True),
        (SHOT | {"void_reason": "typing"}, [25.0], False),
        (STEEP, [2.59], False),  # 225 * 0.0259 / 0.9741 / 15 = 39.88 %
        (STEEP, [2.61], True),  # 40.2 %
        (SHOT | {"bypass_g": 30.0}, [25.0], False),
    ],
)
def test_a_one_sheet_row_with_a_yield_beyond_40(brew, tds, broken):
    assert rules(brew, [{"tds_pct": value} for value in tds]) == (["yield_too_high"] if broken else [])


def test_the_yield_is_named():
    reason = reasons(SHOT, [{"tds_pct": 25.0}]).row(0, named=True)
    assert reason["message"] == (
        "The extraction yield would be 50 %; more than 40 % of the dose cannot dissolve. "
        "A strength of 25 % is over 22 %, about the most for espresso."
    )


POUR = SHOT | {"method": "pour_over", "dose_g": 15.0, "beverage_g": 250.0}
FLAT = SHOT | {"beverage_g": 36.018}


@pytest.mark.parametrize(
    ("brew", "tds", "column", "value", "said"),
    [
        # 360 * 10 / 18 = 200 %: a shot of 20 times its dose
        (SHOT | {"beverage_g": 360.0}, 10.0, "beverage_g", "360", "beverage_g 360 g is 20 times the dose."),
        (SHOT | {"dose_g": 1.8}, 9.0, "dose_g", "1.8", "dose_g is only 1.8 g."),
        (POUR, 14.1, "tds_pct", "14.1", "A strength of 14.1 % is over 3 %, about the most for pour over."),
        (POUR | {"beverage_g": 2500.0}, 1.4, "beverage_g", "2500", "beverage_g 2500 g is 166.7 times the dose."),
        (STEEP | {"water_g": 2250.0}, 1.3, "water_g", "2250", "water_g 2250 g is 150 times the dose."),
        # 36.018 * 20 / 18 = 40.02 %: nothing by itself is out of its range
        (FLAT, 20.0, "tds_pct", "20", "The extraction yield would be 40.02 %; more than 40 % of the dose cannot"),
    ],
)
def test_the_likeliest_slip_is_named(brew, tds, column, value, said):
    reason = reasons(brew, [{"tds_pct": tds}]).row(0, named=True)
    assert (reason["rule"], reason["column"], reason["value"]) == ("yield_too_high", column, value)
    assert said in reason["message"]


def test_where_nothing_is_out_of_its_range_no_quantity_is_blamed():
    assert reasons(FLAT, [{"tds_pct": 20.0}])["message"].item().endswith("cannot dissolve.")


def test_the_highest_of_several_readings_speaks():
    assert reasons(SHOT, [{"tds_pct": value} for value in (24.0, 26.0, 25.0)])["value"].to_list() == ["26"]


def test_a_separate_reading_is_set_aside_at_its_strength_and_names_the_brew_that_looks_wrong():
    rows = frame("readings", [{"brew_id": "b1", "line": 5, "tds_pct": 10.0}])
    reason = reading_reasons(rows, frame("brews", [SHOT | {"beverage_g": 360.0}])).row(0, named=True)
    assert (reason["column"], reason["value"]) == ("tds_pct", "10")
    assert reason["message"].endswith("beverage_g 360 g is 20 times the dose.")


def test_milk_and_unconverted_brix_say_nothing_of_yield():
    assert rules(SHOT, [{"tds_pct": 25.0, "served_as": "milk"}]) == []
    assert rules(SHOT, [{"tds_pct": 25.0, "reading_scale": "brix"}]) == []
    assert rules(SHOT, [{"tds_pct": 25.0, "reading_scale": "brix"}], settings=LabSettings(brix_factor=0.9)) == [
        "yield_too_high"
    ]


def test_an_undiluted_strength_of_100_is_beyond_any_yield():
    brew = STEEP | {"beverage_g": 20.0, "bypass_g": 80.0, "bypass_included": False, "bypass_before_reading": True}
    assert rules(brew, [{"tds_pct": 25.0}]) == ["yield_too_high"]
    assert "over 1000 %" in reasons(brew, [{"tds_pct": 25.0}])["message"].item()


def test_separate_readings_are_judged_one_by_one():
    brews = frame("brews", [SHOT, SHOT | {"brew_id": "b2", "void_reason": "typing"}])
    rows = [
        {"brew_id": brew_id, "line": line, "tds_pct": tds}
        for line, (brew_id, tds) in enumerate([("b1", 10.0), ("b1", 20.1), ("b2", 25.0), ("b9", 25.0)], 2)
    ]
    found = reading_reasons(frame("readings", rows), brews)
    assert found.select("line", "table", "column", "rule").rows() == [(3, "readings", "tds_pct", "yield_too_high")]
