"""Small labs written as rows of words and numbers, and their facts and flags by brew."""

from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from typing import Any

import polars as pl
import pytest

from analysis.facts.derive import JOINED_EXTRA, READING_EXTRA, derive_facts
from analysis.facts.flags.find import find_flags
from schemas.columns import COLUMNS
from schemas.contracts import TABLES
from schemas.dtypes import DTYPE_OF_KIND, frame_schema, stored_schema
from schemas.lab import LabSettings

Row = dict[str, Any]
BREW_SCHEMA = stored_schema(TABLES["brews"]) | {
    name: DTYPE_OF_KIND[COLUMNS[name].kind] if name in COLUMNS else pl.Float64() for name in JOINED_EXTRA
}
READING_SCHEMA = stored_schema(TABLES["readings"]) | frame_schema([COLUMNS[name] for name in READING_EXTRA])
TARGET_SCHEMA = frame_schema(list(TABLES["targets"].columns.values()))
UNDECLARED = LabSettings()
A_BREW: Row = {
    "brewed_at": datetime(2026, 3, 2, 9, 0, tzinfo=UTC),
    "brewed_at_is_date": False,
    "coffee_id": "c1",
    "coffee_name": "Coffee one",
    "roasted_on": date(2026, 2, 20),
    "method": "espresso",
    "dose_g": 18.0,
    "beverage_g": 36.0,
    "source_file": "log.csv",
}


def as_frame(rows: list[Row], schema: dict[str, pl.DataType]) -> pl.DataFrame:
    full = [{name: row.get(name) for name in schema} for row in rows]
    assert all(name in schema for row in rows for name in row), "a test names a column that does not exist"
    return pl.DataFrame(full, schema=schema)


def brew_frame(brews: list[Row]) -> pl.DataFrame:
    lines = range(2, 2 + len(brews))
    return as_frame(
        [
            A_BREW
            | {"brew_id": f"b{line - 1}", "line": line, "brewed_at": A_BREW["brewed_at"] + timedelta(minutes=line)}
            | brew
            for line, brew in zip(lines, brews, strict=True)
        ],
        BREW_SCHEMA,
    )


def reading_frame(brews: list[Row], readings: list[Row]) -> pl.DataFrame:
    """Readings as given, after those that brews carry inline as `tds` (a list), on instrument `on`."""
    inline = [
        {
            "brew_id": brew.get("brew_id", f"b{number}"),
            "reading_no": reading_no,
            "tds_pct": tds,
            "instrument_id": brew.get("on"),
        }
        for number, brew in enumerate(brews, 1)
        for reading_no, tds in enumerate(brew.get("tds", []), 1)
    ]
    rows = [{"sample_no": 1, "reading_scale": "tds", "source_file": "readings.csv"} | row for row in inline + readings]
    return as_frame([{"line": line} | row for line, row in enumerate(rows, 2)], READING_SCHEMA)


def parts(brews: list[Row], readings: list[Row] | None) -> tuple[pl.DataFrame, pl.DataFrame]:
    plain = [{name: cell for name, cell in brew.items() if name not in ("tds", "on")} for brew in brews]
    return brew_frame(plain), reading_frame(brews, readings or [])


@pytest.fixture
def facts_of() -> Callable[..., pl.DataFrame]:
    def make(
        brews: list[Row],
        readings: list[Row] | None = None,
        targets: list[Row] | None = None,
        settings: LabSettings = UNDECLARED,
    ) -> pl.DataFrame:
        joined, read = parts(brews, readings)
        return derive_facts(joined, read, as_frame(targets or [], TARGET_SCHEMA), settings=settings)

    return make


@pytest.fixture
def fact_of(facts_of: Callable[..., pl.DataFrame]) -> Callable[..., Row]:
    """The facts of a single brew."""

    def make(brew: Row, readings: list[Row] | None = None, **more: Any) -> Row:
        return facts_of([brew], readings, **more).row(0, named=True)

    return make


@pytest.fixture
def flags_of() -> Callable[..., pl.DataFrame]:
    def make(brews: list[Row], readings: list[Row] | None = None, settings: LabSettings = UNDECLARED) -> pl.DataFrame:
        joined, read = parts(brews, readings)
        facts = derive_facts(joined, read, as_frame([], TARGET_SCHEMA), settings=settings)
        return find_flags(facts, joined, read, settings=settings)

    return make


@pytest.fixture
def rules_of(flags_of: Callable[..., pl.DataFrame]) -> Callable[..., list[str]]:
    """Names of the rules that a single brew meets."""

    def make(brew: Row, readings: list[Row] | None = None, **more: Any) -> list[str]:
        return flags_of([brew], readings, **more)["rule"].to_list()

    return make
