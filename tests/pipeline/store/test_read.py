from __future__ import annotations

import tempfile
from dataclasses import replace
from pathlib import Path

import polars as pl
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from pipeline.database import connect
from pipeline.store.model import TableEntry
from pipeline.store.read import all_versions, current, read_list, read_set_aside
from pipeline.store.store import Store
from schemas.contracts import TABLES
from schemas.dtypes import stored_schema
from schemas.problem import ProblemError
from schemas.reports import SET_ASIDE_COLUMNS

Key = tuple[str | None, str | None, int | None, int | None]
MAYBE_ID = st.sampled_from([None, "", "a", "b", "007"])
MAYBE_NUMBER = st.sampled_from([None, 0, 1])
KEYS = st.tuples(MAYBE_ID, MAYBE_ID, MAYBE_NUMBER, MAYBE_NUMBER)
COMMITS = st.lists(st.dictionaries(KEYS, st.integers(1, 20), min_size=1, max_size=6), max_size=5)
KEY_COLUMNS = TABLES["readings"].key


def as_row(key: Key, tds_pct: float, revision: int, commit_no: int) -> dict[str, object]:
    return {
        **dict(zip(KEY_COLUMNS, key, strict=True)),
        "tds_pct": tds_pct,
        "revision": revision,
        "commit_no": commit_no,
    }


def test_a_changed_row_replaces_the_one_before_it_and_both_stay_readable(filled):
    now = current(filled, filled.head(), "brews").select("brew_id", "dose_g", "revision").collect()
    ever = all_versions(filled, filled.head(), "brews").select("brew_id", "dose_g").collect()

    assert now.rows() == [("a", 18.0, 0), ("c", 18.0, 0), ("b", 18.5, 1)]
    assert ever.rows() == [("a", 18.0), ("b", 18.0), ("c", 18.0), ("b", 18.5)]


def test_an_earlier_commit_still_shows_what_stood_then(filled):
    then = current(filled, filled.as_of(1), "brews").select("brew_id", "dose_g").collect()

    assert then.rows() == [("a", 18.0), ("b", 18.0), ("c", 18.0)]


@pytest.mark.parametrize("table", TABLES)
def test_a_table_without_rows_is_empty_and_typed(store, table):
    rows = current(store, store.head(), table).collect()

    assert rows.height == 0
    assert dict(rows.schema) == stored_schema(TABLES[table])


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(COMMITS)
def test_current_rows_are_those_of_a_dictionary_that_was_overwritten(commit, commits):
    newest: dict[Key, tuple[int, int]] = {}
    with tempfile.TemporaryDirectory() as folder:
        store = Store(Path(folder))
        for number, changes in enumerate(commits, start=1):
            fresh, gone = [], []
            for key, tds_pct in changes.items():
                revision = newest[key][1] + 1 if key in newest else 0
                fresh.append(as_row(key, tds_pct, revision, number))
                if revision:
                    gone.append(as_row(key, 0, revision - 1, number))
                newest[key] = (tds_pct, revision)
            commit(store, rows={"readings": fresh}, replaced={"readings": gone} if gone else None)
        columns = [*KEY_COLUMNS, "tds_pct", "revision"]
        rows = current(store, store.head(), "readings").select(columns).collect().rows()
        with connect(store, store.head(), tables=["readings"]) as con:
            rows_in_sql = con.sql(f"SELECT {', '.join(columns)} FROM readings").fetchall()

    expected = [(*key, tds_pct, revision) for key, (tds_pct, revision) in newest.items()]
    assert sorted(rows, key=str) == sorted(expected, key=str)
    assert rows_in_sql == rows


def test_a_list_that_was_never_written_has_no_columns(filled):
    assert read_list(filled, filled.head(), "waiting_readings").width == 0


def test_the_set_aside_list_is_typed_even_when_there_is_none(filled):
    nothing = read_set_aside(filled, filled.head())

    assert tuple(nothing.columns) == SET_ASIDE_COLUMNS
    assert nothing.schema["line"] == pl.Int64


def test_a_missing_file_is_told_before_anything_is_read(filled):
    file = filled.head().tables["brews"].files[0]
    filled.data_path(file).unlink()
    later = Store(filled.lab_dir)

    with pytest.raises(ProblemError, match=file.name):
        current(later, later.head(), "brews")
    assert current(later, later.head(), "readings").collect().height == 1


def test_a_thousand_small_files_read_as_one_table(store, typed):
    names = [f"b{number:04d}" for number in range(1000)]
    with store.lock():
        files = tuple(store.write_data(typed("brews", [{"brew_id": name}])) for name in names)
    manifest = replace(store.head(), tables={"brews": TableEntry(files=files)})

    assert current(store, manifest, "brews").collect()["brew_id"].to_list() == names
