"""Ids that look like a slip of another: which are named, where, and in which words."""

from __future__ import annotations

import json
from datetime import UTC, datetime

import polars as pl
import pytest

from analysis.resemblance import near_miss_flags, resembles
from schemas.contracts import TABLES
from schemas.dtypes import stored_schema
from schemas.lab import LabSettings
from schemas.reports import FLAG_COLUMNS

PARENTS = ("coffees", "lots", "grinders", "instruments")
OSLO = LabSettings(timezone="Europe/Oslo")


def frame(table, *rows):
    schema = stored_schema(TABLES[table])
    whole = [{name: row.get(name) for name in schema} | {"source_file": "log.csv"} for row in rows]
    return pl.DataFrame(whole, schema=schema)


def brews(*coffees):
    at = datetime(2026, 3, 2, 23, 30, tzinfo=UTC)
    return [
        {"brew_id": f"b{no}", "brewed_at": at, "coffee_id": coffee, "line": no + 1}
        for no, coffee in enumerate(coffees, 1)
    ]


def flags(parents, **rows):
    held = {table: frame(table, *parents.get(table, [])) for table in PARENTS}
    return near_miss_flags({table: frame(table, *found) for table, found in rows.items()}, held, settings=OSLO)


def test_a_stub_close_to_a_described_coffee():
    held = {"coffees": [{"coffee_id": "sunrise", "name": "Sunrise"}, {"coffee_id": "sunrize"}]}
    (flag,) = flags(held, brews=brews("sunrise", "sunrize", "sunrize"), readings=[]).iter_rows(named=True)
    assert tuple(flag) == FLAG_COLUMNS
    assert (flag["brew_id"], flag["line"], flag["table"], flag["column"]) == ("b2", 3, "brews", "coffee_id")
    assert flag["message"] == "coffee_id sunrize is new here and close to sunrise. 2 brews name it."
    assert json.loads(flag["row_json"])["brewed_at"] == "2026-03-03T00:30:00+01:00"


def test_of_two_stubs_the_one_that_fewer_rows_name_is_the_slip():
    held = {"coffees": [{"coffee_id": "sunrise"}, {"coffee_id": "sunrize"}]}
    found = flags(held, brews=brews("sunrize", "sunrise", "sunrise"), readings=[])
    assert found.select("value", "brew_id").rows() == [("sunrize", "b1")]
    assert flags(held, brews=brews("sunrize", "sunrise"), readings=[]).is_empty()


def test_an_instrument_that_only_readings_name():
    held = {"instruments": [{"instrument_id": "lens-1", "kind": "refractometer"}, {"instrument_id": "lense-1"}]}
    reading = {"brew_id": "b1", "instrument_id": "lense-1", "reading_no": 1, "tds_pct": 9.0, "line": 7}
    (flag,) = flags(held, brews=brews("c"), readings=[reading]).iter_rows(named=True)
    assert (flag["table"], flag["line"], flag["brew_id"], flag["value"]) == ("readings", 7, "b1", "lense-1")
    assert flag["message"] == "instrument_id lense-1 is new here and close to lens-1. 1 reading names it."


def test_a_stub_that_no_row_names_any_more_is_not_flagged():
    held = {"coffees": [{"coffee_id": "sunrise", "name": "Sunrise"}, {"coffee_id": "sunrize"}]}
    assert flags(held, brews=brews("sunrise"), readings=[]).is_empty()


@pytest.mark.parametrize(
    ("name", "known", "likely"),
    [
        ("c1", "c01", "c01"),
        ("007", "7", "7"),
        ("Lot 3-07", "lot 03-7", "lot 03-7"),
        ("000", "0", "0"),
        ("c1", "c10", ""),
        ("c-10", "c-1", ""),
        ("c01", "c02", ""),
        ("100", "1", ""),
        ("2026-03", "202603", "202603"),
    ],
)
def test_numbers_compare_without_leading_zeros_and_never_with_others(name, known, likely):
    assert resembles(name, [known]) == likely


def test_two_stubs_that_differ_by_a_leading_zero():
    held = {"coffees": [{"coffee_id": "c1"}, {"coffee_id": "c01"}]}
    found = flags(held, brews=brews("c1", "c01", "c01"), readings=[])
    assert found.select("value", "brew_id").rows() == [("c1", "b1")]
