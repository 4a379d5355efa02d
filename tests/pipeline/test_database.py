from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import duckdb
import numpy as np
import polars as pl
import pytest

from pipeline.database import connect, run_sql, to_polars
from pipeline.store.model import Manifest, TableEntry
from pipeline.store.store import Store
from schemas.contracts import TABLES
from schemas.dtypes import stored_schema
from schemas.problem import ProblemError


def stored(table: str, **columns: list[object]) -> pl.DataFrame:
    schema = stored_schema(TABLES[table])
    height = len(next(iter(columns.values())))
    given = {"revision": [0] * height, "commit_no": [1] * height} | columns
    return pl.DataFrame({name: given.get(name, [None] * height) for name in schema}, schema=schema)


@pytest.fixture
def store(tmp_path: Path) -> Store:
    """Names that mean something to a file pattern, a partition or an SQL text must mean nothing here."""
    lab = tmp_path / "o'lab [a] x=1 *?"
    lab.mkdir()
    return Store(lab)


@pytest.fixture
def manifest(store: Store) -> Manifest:
    """Three brews, one of them with an empty id, and a revision of two of them."""
    first = store.write_data(stored("brews", brew_id=["a", "b", None], dose_g=[18.0, 18.0, 18.0]))
    second = store.write_data(
        stored("brews", brew_id=["b", None], dose_g=[18.5, 19.0], revision=[1, 1], commit_no=[2, 2])
    )
    gone = store.write_data(pl.DataFrame({"brew_id": ["b", None], "revision": [0, 0]}))
    entry = TableEntry(files=(first, second), replaced=(gone,))
    return store.commit(replace(store.head(), number=1, tables={"brews": entry}))


def test_every_input_table_is_there_typed_even_without_rows(store):
    with connect(store, store.head()) as con:
        for name, table in TABLES.items():
            empty = to_polars(con.sql(f"SELECT * FROM {name}").to_arrow_table())
            assert dict(empty.schema) == stored_schema(table)
            assert empty.height == 0


def test_a_table_shows_its_current_rows_with_the_commit_that_brought_them(store, manifest):
    with connect(store, manifest) as con:
        rows = con.sql("SELECT brew_id, dose_g, commit_no FROM brews").fetchall()
        ever = con.sql("SELECT count(*) FROM brews_all_versions").fetchall()

    assert rows == [("a", 18.0, 1), ("b", 18.5, 2), (None, 19.0, 2)]
    assert ever == [(5,)]


def test_a_column_that_an_older_file_lacks_is_null_there(store):
    old = store.write_data(stored("brews", brew_id=["a"], notes=["x"]).drop("notes", "dose_g"))
    new = store.write_data(stored("brews", brew_id=["b"], notes=["y"], dose_g=[18.0]))
    with store.lock():
        manifest = store.commit(replace(store.head(), number=1, tables={"brews": TableEntry(files=(old, new))}))
    with connect(store, manifest) as con:
        assert con.sql("SELECT brew_id, notes, dose_g FROM brews").fetchall() == [("a", None, None), ("b", "y", 18.0)]


def test_extra_frames_are_views_too(store):
    extra = {"brew_facts": pl.DataFrame({"brew_id": ["a"]}), "flags": pl.DataFrame({"rule": ["x"]}).to_arrow()}
    with connect(store, store.head(), extra=extra) as con:
        assert con.sql("SELECT brew_id, rule FROM brew_facts, flags").fetchall() == [("a", "x")]


def test_only_the_tables_asked_for_are_opened(store, manifest):
    with connect(store, manifest, tables=["coffees"]) as con:
        assert con.sql("SHOW TABLES").fetchall() == [("coffees",)]


def test_a_damaged_file_is_told_when_connecting(store, manifest):
    path = store.data_path(manifest.tables["brews"].files[0])
    path.write_bytes(path.read_bytes()[:-9])

    with pytest.raises(ProblemError, match=rf"{path.name} is damaged.*brewtrials verify"):
        connect(Store(store.lab_dir), manifest)


def test_times_come_back_in_utc_whatever_the_machine_says(store, monkeypatch):
    monkeypatch.setenv("TZ", "Pacific/Auckland")
    with connect(store, store.head()) as con:
        frame = to_polars(con.sql("SELECT TIMESTAMPTZ '2026-04-03 09:15:00' AS brewed_at").to_arrow_table())

    assert frame["brewed_at"].dt.to_string("iso").to_list() == ["2026-04-03 09:15:00.000000+00:00"]


def test_a_sum_of_numbers_has_the_same_last_digit_every_time(store):
    rng = np.random.default_rng(5)
    rows = 300_000
    values = rng.lognormal(0, 20, rows)
    frame = stored("readings", brew_id=[str(n % 7) for n in range(rows)], tds_pct=values.tolist())
    file = store.write_data(frame)
    manifest = store.commit(replace(store.head(), number=1, tables={"readings": TableEntry(files=(file,))}))

    sums = set()
    for _ in range(5):
        with connect(store, manifest, tables=["readings"]) as con:
            sums.add(tuple(con.sql("SELECT brew_id, sum(tds_pct) FROM readings GROUP BY 1 ORDER BY 1").fetchall()))

    assert len(sums) == 1


def test_whole_numbers_that_were_widened_come_back_as_int64():
    with duckdb.connect() as con:
        narrow = to_polars(con.sql("SELECT sum(x) AS total FROM range(5) r(x)").to_arrow_table())
        wide = to_polars(
            con.sql("SELECT sum(x * 9_000_000_000_000_000_000::HUGEINT) AS t FROM range(9) r(x)").to_arrow_table()
        )

    assert (narrow.schema["total"], narrow.item()) == (pl.Int64, 10)
    # 36 x 9e18, more than an Int64 holds, must stay whole: 324e18.
    assert int(wide.item()) == 324 * 10**18


def test_named_sql_runs_with_bound_values(store, tmp_path, monkeypatch):
    (tmp_path / "by_id.sql").write_text("SELECT $wanted AS brew_id, $dose_g + 1 AS more", encoding="utf-8")
    monkeypatch.setattr("pipeline.database.SQL_DIR", tmp_path)
    with connect(store, store.head()) as con:
        found = run_sql(con, "by_id", wanted="'; DROP VIEW brews; --", dose_g=18.0)

    assert found.rows() == [("'; DROP VIEW brews; --", 19.0)]


ESCAPES = (
    "SELECT * FROM read_csv('/etc/passwd')",
    "SELECT * FROM read_text('/etc/passwd')",
    "SELECT * FROM read_blob('/proc/self/environ')",
    "SELECT * FROM read_json('/etc/passwd')",
    "SELECT * FROM sniff_csv('/etc/passwd')",
    "SELECT * FROM glob('/etc/*')",
    "SELECT * FROM '/etc/passwd'",
    "SELECT * FROM '../lab.toml'",
    "SELECT * FROM read_text('{data}/../../lab.toml')",
    "SELECT * FROM read_text('{data}/link')",
    "SELECT * FROM read_parquet('{file}')",
    "SELECT * FROM parquet_metadata('{file}')",
    "SELECT * FROM glob('{data}/*')",
    "SELECT * FROM 'https://example.com/a.csv'",
    "SELECT * FROM read_parquet('s3://bucket/a.parquet')",
    "SELECT * FROM query('FROM glob(''/etc/*'')')",
    "COPY brews TO '{data}/new.parquet'",
    "COPY (SELECT 1) TO '{file}'",
    "WITH x AS (COPY (SELECT 1 AS a) TO '{file}') SELECT 1",
    "EXPLAIN ANALYZE COPY (SELECT 1) TO '{file}'",
    "EXPORT DATABASE '{data}/export'",
    "IMPORT DATABASE '{data}/export'",
    "ATTACH '{data}/new.db'",
    "ATTACH 'https://example.com/a.db'",
    "INSTALL httpfs",
    "LOAD httpfs",
    "LOAD '{file}'",
    "SET enable_external_access = true",
    "SET allowed_directories = ['/']",
    "SET lock_configuration = false",
    "SET threads = 4",
    "RESET enable_external_access",
    "PRAGMA enable_profiling",
    "CALL enable_logging(storage = 'file', storage_path = '{data}/log')",
    "SELECT * FROM enable_profiling(save_location = '{data}/profile.json')",
    "CREATE SECRET (TYPE s3, KEY_ID 'a', SECRET 'b')",
    "SELECT getenv('HOME')",
    "SELECT * FROM arrow_scan(1, 1, 1)",
    "SELECT * FROM hidden_frame",
)


@pytest.mark.parametrize("attempt", ESCAPES)
def test_no_statement_reaches_a_file_the_network_or_a_setting(store, manifest, attempt):
    hidden_frame = pl.DataFrame({"secret": [1]})  # noqa: F841
    (store.lab_dir / "lab.toml").write_text("secret")
    (store.data_dir / "link").symlink_to("/etc/passwd")
    file = store.data_path(manifest.tables["brews"].files[0])
    before = {path: path.lstat().st_size for path in store.lab_dir.rglob("*")}, file.read_bytes()
    sql = attempt.format(data=str(store.data_dir).replace("'", "''"), file=str(file).replace("'", "''"))

    with connect(store, manifest) as con:
        with pytest.raises(duckdb.Error):
            con.execute(sql).fetchall()
        # The connection still works and still sees what it should.
        assert con.execute("SELECT count(*) FROM brews").fetchall() == [(3,)]

    assert ({path: path.lstat().st_size for path in store.lab_dir.rglob("*")}, file.read_bytes()) == before
