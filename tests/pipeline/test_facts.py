"""Facts and flags over a store: which coffee, lot, grinder, scale and instrument each row is joined with."""

from dataclasses import replace
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

import polars as pl
import pytest

from analysis.facts.derive import JOINED_EXTRA, READING_EXTRA
from pipeline.facts import brew_facts, brew_flags, read_inputs
from pipeline.store.model import Manifest, TableEntry
from pipeline.store.store import Store
from schemas.columns import COLUMNS
from schemas.contracts import TABLES
from schemas.dtypes import frame_schema, stored_schema
from schemas.lab import LabSettings
from schemas.reports import FACT_COLUMNS, FLAG_COLUMNS

Rows = list[dict[str, Any]]


def typed(table: str, rows: Rows) -> pl.DataFrame:
    schema = stored_schema(TABLES[table])
    full = [
        {"revision": 0, "commit_no": 1, "line": line, "source_file": f"{table}.csv"} | row
        for line, row in enumerate(rows, 2)
    ]
    return pl.DataFrame([{name: row.get(name) for name in schema} for row in full], schema=schema)


def commit(store: Store, **tables: Rows) -> Manifest:
    entries = {name: TableEntry(files=(store.write_data(typed(name, rows)),)) for name, rows in tables.items()}
    with store.lock():
        head = store.head()
        return store.commit(replace(head, number=head.number + 1, tables={**head.tables, **entries}))


def brew(brew_id: str, **more: Any) -> dict[str, Any]:
    day = datetime(2026, 3, 10, 8, tzinfo=UTC)
    usual = {"brew_id": brew_id, "brewed_at": day, "brewed_at_is_date": False, "coffee_id": "c1", "method": "espresso"}
    return usual | {"dose_g": 18.0, "beverage_g": 36.0} | more


LAB: dict[str, Rows] = {
    "coffees": [
        {"coffee_id": "c1", "name": "Coffee one", "roasted_on": date(2026, 3, 1), "moisture_pct": 2.0},
        {"coffee_id": "c2", "roast_level": "dark"},
    ],
    "lots": [
        {"lot_id": "full", "coffee_id": "c1", "roasted_on": date(2026, 3, 4), "moisture_pct": 4.0, "frozen_days": 2},
        {"lot_id": "bare", "coffee_id": "c1", "frozen_days": 1},
    ],
    "grinders": [{"grinder_id": "g1", "finer_is": "higher", "step_um": 10.0, "dial": "8"}],
    "instruments": [
        {"instrument_id": "S1", "kind": "scale", "resolution": 0.1, "standard_uncertainty": 0.05},
        {"instrument_id": "R1", "kind": "refractometer", "resolution": 0.01, "standard_uncertainty": 0.03},
    ],
    "brews": [
        brew("a", lot_id="full", scale_id="S1", grinder_id="g1", grind_setting="3+2"),
        brew("b", lot_id="bare"),
        brew("c"),
        brew("d", coffee_id="c2", grinder_id="g1", grind_setting="3+x"),
    ],
    "readings": [
        {"brew_id": name, "reading_no": no, "sample_no": 1, "instrument_id": "R1", "tds_pct": tds}
        for name in "abc"
        for no, tds in [(1, 10.0), (2, 10.0)]
    ],
    "targets": [{"target_id": "t", "coffee_id": "c1", "quantity": "tds_pct", "low": 9.0, "high": 10.0}],
}


@pytest.fixture
def store(tmp_path: Path) -> Store:
    return Store(tmp_path)


@pytest.fixture
def facts(store: Store) -> dict[str, dict[str, Any]]:
    found = brew_facts(store, commit(store, **LAB), LabSettings())
    return {row["brew_id"]: row for row in found.iter_rows(named=True)}


def test_a_lot_wins_over_its_coffee_and_an_empty_cell_falls_back(facts):
    # Brewed 10 March: the full lot 6 days old less 2 frozen, the bare one the coffee's 9 less 1, no lot 9.
    assert [facts[name]["days_off_roast"] for name in "abcd"] == [4, 8, 9, None]
    dry = [facts[name]["extraction_yield_dry_pct"] for name in "abcd"]
    assert dry == [pytest.approx(20 / 0.96), pytest.approx(20 / 0.98), pytest.approx(20 / 0.98), None]


def test_a_coffee_without_a_name_goes_by_its_id(facts):
    assert [(facts[name]["coffee_name"], facts[name]["roast_level"]) for name in "ad"] == [
        ("Coffee one", None),
        ("c2", "dark"),
    ]


def test_grinder_scale_and_instrument_are_found(facts):
    assert facts["a"]["grind_dial"] == 3.25
    assert facts["a"]["grind_um_finer"] == 0
    # Strength 0.03 and a step of 0.01; masses 0.05 and a step of 0.1, read twice; slopes 2, 10/18 and 20/18.
    u_tds_2, u_mass_2 = 0.03**2 + 0.01**2 / 12, 0.05**2 + 2 * 0.1**2 / 12
    assert facts["a"]["tds_u_pct"] == pytest.approx(u_tds_2**0.5)
    expected = (4 * u_tds_2 + ((10 / 18) ** 2 + (20 / 18) ** 2) * u_mass_2) ** 0.5
    assert facts["a"]["extraction_yield_u_pct"] == pytest.approx(expected)
    assert facts["a"]["u_note"] is None
    assert facts["a"]["in_target"] is True


def test_flags_come_with_the_row(store):
    flags = brew_flags(store, commit(store, **LAB), LabSettings())
    assert tuple(flags.columns) == FLAG_COLUMNS
    assert flags.select("source_file", "line", "brew_id", "rule").rows() == [("brews.csv", 5, "d", "dial_not_read")]


def test_flags_with_facts_at_hand_are_the_same(store):
    manifest = commit(store, **LAB)
    facts = brew_facts(store, manifest, LabSettings())
    given = brew_flags(store, manifest, LabSettings(), facts)
    assert given.equals(brew_flags(store, manifest, LabSettings()))


def test_an_empty_store_has_empty_facts_and_flags(store):
    facts = brew_facts(store, store.head(), LabSettings())
    assert facts.schema == pl.Schema(frame_schema([COLUMNS[name] for name in FACT_COLUMNS]))
    assert facts.is_empty()
    assert brew_flags(store, store.head(), LabSettings()).is_empty()


def test_the_joins_give_what_the_arithmetic_needs(store):
    inputs = read_inputs(store, commit(store, **LAB))
    assert {*stored_schema(TABLES["brews"]), *JOINED_EXTRA} == set(inputs.brews.columns)
    assert {*stored_schema(TABLES["readings"]), *READING_EXTRA} == set(inputs.readings.columns)
    assert inputs.brews.height == 4


def test_the_order_of_stored_rows_changes_nothing(store):
    forward = brew_facts(store, commit(store, **LAB), LabSettings())
    turned = {
        name: [row | {"line": line} for line, row in reversed(list(enumerate(rows, 2)))] for name, rows in LAB.items()
    }
    assert brew_facts(store, commit(store, **turned), LabSettings()).equals(forward)
