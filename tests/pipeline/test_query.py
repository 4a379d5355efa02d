from __future__ import annotations

import time
from dataclasses import replace
from pathlib import Path

import polars as pl
import pytest

from pipeline.database import connect
from pipeline.query import run_query
from pipeline.store.model import TableEntry
from pipeline.store.store import Store
from schemas.contracts import TABLES
from schemas.dtypes import stored_schema
from schemas.problem import ProblemError


@pytest.fixture
def con(tmp_path: Path):
    """Three brews of two coffees, and brew_facts."""
    store, schema = Store(tmp_path), stored_schema(TABLES["brews"])
    given = {"brew_id": ["a", "b", "c"], "coffee_id": ["x", "x", "y"], "dose_g": [18.0, 19.0, 20.0]}
    rows = pl.DataFrame({name: given.get(name, [None] * 3) for name in schema}, schema=schema)
    entry = TableEntry(files=(store.write_data(rows),))
    manifest = store.commit(replace(store.head(), number=1, tables={"brews": entry}))
    with connect(store, manifest, extra={"brew_facts": pl.DataFrame({"n_readings": [2, 3]})}) as con:
        yield con


@pytest.mark.parametrize(
    ("sql", "rows"),
    [
        ("SELECT coffee_id, sum(dose_g) FROM brews GROUP BY 1 ORDER BY 1", [("x", 37.0), ("y", 20.0)]),
        ("with d as (select max(dose_g) as m from brews) select brew_id from brews, d where dose_g = m;", [("c",)]),
        ("FROM brews SELECT brew_id WHERE dose_g > 19", [("c",)]),
        ("-- a comment\nSELECT 1 UNION ALL SELECT 2", [(1,), (2,)]),
        ("SELECT sum(n_readings) FROM brew_facts", [(5,)]),
        (
            "WITH RECURSIVE t(n) AS (SELECT 1 UNION ALL SELECT n + 1 FROM t WHERE n < 3) SELECT n FROM t",
            [(1,), (2,), (3,)],
        ),
        ("VALUES (1, 'a')", [(1, "a")]),
    ],
)
def test_statements_that_read_give_their_rows(con, sql, rows):
    assert run_query(con, sql).rows() == rows


def test_describe_and_show_say_what_there_is(con):
    assert "brew_facts" in run_query(con, "SHOW TABLES")["name"].to_list()
    described = run_query(con, "DESCRIBE brews")
    assert described["column_name"].to_list() == list(stored_schema(TABLES["brews"]))
    assert run_query(con, "SUMMARIZE brews").height == len(stored_schema(TABLES["brews"]))


@pytest.mark.parametrize("explain", ["EXPLAIN", "explain analyze"])
def test_explain_tells_the_plan_of_a_reading_statement(con, explain):
    plan = run_query(con, f"{explain} SELECT brew_id FROM brews ORDER BY dose_g")

    assert plan.columns == ["what", "plan"]
    assert "Order By" in plan["plan"][0]


def test_a_limit_cuts_the_rows_in_their_order(con):
    ordered = "SELECT brew_id FROM brews ORDER BY dose_g DESC"

    assert run_query(con, ordered, limit=2)["brew_id"].to_list() == ["c", "b"]
    assert run_query(con, ordered, limit=99).height == 3


@pytest.mark.parametrize(
    ("sql", "kind"),
    [
        ("COPY brews TO 'x.csv'", "COPY"),
        ("ATTACH 'x.db'", "ATTACH"),
        ("INSTALL httpfs", "INSTALL or LOAD"),
        ("LOAD httpfs", "INSTALL or LOAD"),
        ("PRAGMA version", "PRAGMA"),
        ("SET threads = 4", "SET"),
        ("USE memory", "SET"),
        ("CREATE TABLE x AS SELECT 1", "CREATE"),
        ("INSERT INTO brews VALUES (1)", "INSERT"),
        ("DELETE FROM brews", "DELETE"),
        ("DROP VIEW brews", "DROP"),
        ("CALL enable_logging()", "CALL"),
        ("BEGIN", "TRANSACTION"),
        ("PREPARE p AS SELECT 1", "PREPARE"),
        ("EXPORT DATABASE 'x'", "EXPORT"),
        ("PIVOT brews ON coffee_id USING count(*)", "PIVOT without its values"),
    ],
)
def test_statements_that_do_more_than_read_are_named_and_refused(con, sql, kind):
    with pytest.raises(ProblemError, match=rf"^{kind}.* is not allowed.*Only one statement that reads"):
        run_query(con, sql)
    assert run_query(con, "SELECT count(*) FROM brews").item() == 3


@pytest.mark.parametrize(
    "sql",
    [
        "WITH x AS (COPY brews TO 'x.csv') SELECT 1",
        "WITH x AS (INSERT INTO brews VALUES (1) RETURNING *) FROM x",
        "WITH x AS (DELETE FROM brews RETURNING *) FROM x",
        "EXPLAIN COPY brews TO 'x.csv'",
        "EXPLAIN ANALYZE COPY brews TO 'x.csv'",
        "EXPLAIN /* hidden */ ANALYZE COPY brews TO 'x.csv'",
        "EXPLAIN ANALYZE CREATE TABLE x AS SELECT 1",
        "EXPLAIN ANALYZE WITH x AS (COPY brews TO 'x.csv') SELECT 1",
    ],
)
def test_writing_hidden_inside_a_reading_statement_is_refused(con, sql, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)

    with pytest.raises(ProblemError, match=r"does more than read"):
        run_query(con, sql)
    assert not (tmp_path / "x.csv").exists()


@pytest.mark.parametrize(
    ("sql", "found"),
    [("", "There is no"), ("-- nothing", "There is no"), (";", "There is no"), ("SELECT 1; SELECT 2", "There are 2")],
)
def test_anything_but_one_statement_is_refused(con, sql, found):
    with pytest.raises(ProblemError, match=rf"{found} statement"):
        run_query(con, sql)


@pytest.mark.parametrize(
    "sql", ["FROM '/etc/x.csv'", "FROM read_csv('/etc/passwd')", "FROM 'https://example.com/a.csv'", "FROM glob('*')"]
)
def test_reaching_for_a_file_or_the_network_is_told_in_words(con, sql):
    with pytest.raises(ProblemError, match="tables of the project folder and nothing else: no files, no network"):
        run_query(con, sql)


@pytest.mark.parametrize(
    ("sql", "words"),
    [
        ("SELEC 1", r'syntax error at or near "SELEC" \(line 1, at \'SELEC 1\'\)'),
        ("SELECT brew_id\nFROM brews\nWHERE dosee > 3", r'"dosee" not found.*\(line 3, at \'dosee > 3\'\).*"dose_g"'),
        ("FROM brewz", r'Table with name brewz does not exist \(line 1.*Did you mean "brews"\?.*tables are attributes'),
        ("SELECT nosuch(1)", "Scalar Function with name nosuch does not exist"),
        ("SELECT 'x'::INT", r"Could not convert string 'x' to INT32 \(at '::INT'\)"),
        ("SELECT b.brew_id FROM brews b, brews c WHERE brew_id = 'a'", "Ambiguous reference"),
    ],
)
def test_an_error_in_the_sql_says_what_where_and_what_next(con, sql, words):
    with pytest.raises(ProblemError, match=f"(?s)The query does not work: .*{words}.*SHOW TABLES") as caught:
        run_query(con, sql, limit=10)
    assert "\n" not in str(caught.value)


def test_a_query_that_takes_too_long_is_stopped_and_the_next_one_works(con):
    started = time.monotonic()
    with pytest.raises(ProblemError, match=r"stopped after 0.2 s"):
        run_query(con, "SELECT sum(a.range * b.range) FROM range(100000000) a, range(100000) b", timeout_s=0.2)

    assert time.monotonic() - started < 10
    assert run_query(con, "SELECT 1", timeout_s=5).item() == 1


def test_a_query_that_needs_too_much_memory_is_told(tmp_path):
    store = Store(tmp_path)
    with connect(store, store.head(), memory_limit="20MB") as con:
        with pytest.raises(ProblemError, match="more memory than it may use"):
            run_query(con, "SELECT list(repeat(range::VARCHAR, 50)) FROM range(10000000)")
        assert run_query(con, "SELECT 1").item() == 1


def test_a_value_that_cannot_be_shown_names_its_column(con):
    with pytest.raises(ProblemError, match=r"one of: age \(month_day_nano_interval\).*CAST"):
        run_query(con, "SELECT INTERVAL 1 DAY AS age")


def test_a_table_that_is_not_there_names_the_derived_ones_too(con) -> None:
    with pytest.raises(ProblemError, match=r"The tables are .*\bbrew_facts, .*\bflags, .*\bset_aside, "):
        run_query(con, "SELECT * FROM brew_fact")
