"""A user's own SQL over one commit: one reading statement, bounded in time and rows, with errors in plain words."""

from __future__ import annotations

import json
import re
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from itertools import pairwise
from typing import Any

import duckdb
import polars as pl

from pipeline.database import to_polars
from schemas.problem import ProblemError

READS = {duckdb.StatementType.SELECT, duckdb.StatementType.EXPLAIN}
NAMES = {
    duckdb.StatementType.MULTI: "PIVOT without its values (write ON column IN ('a', 'b'))",
    duckdb.StatementType.LOAD: "INSTALL or LOAD",
}
READING_NODES = {"SELECT_NODE", "SET_OPERATION_NODE", "RECURSIVE_CTE_NODE", "CTE_NODE"}
EXPLAIN = re.compile(r"\s*EXPLAIN\s+(?:ANALYZE\s+)?", re.IGNORECASE)
ONLY = "Only one statement that reads is allowed here: SELECT, WITH, FROM, DESCRIBE, SHOW, SUMMARIZE or EXPLAIN."
BEFORE_RUNNING = (duckdb.ParserException, duckdb.BinderException, duckdb.CatalogException)
NEAR_CHARACTERS = 30
DERIVED_TABLES = ("brew_facts", "flags", "set_aside")
"""Tables that are worked out only where a statement names them, so SHOW TABLES does not know them before."""
WHERE_TO_LOOK = "SHOW TABLES lists the tables, DESCRIBE brews the columns of one."


def run_query(
    con: duckdb.DuckDBPyConnection, sql: str, *, limit: int | None = None, timeout_s: float | None = None
) -> pl.DataFrame:
    """Rows of one reading statement on a connection of `pipeline.database.connect`, at most `limit` of them.

    Raises ProblemError for any other statement, for an error in the SQL (first line, place, what to look at), and
    when `timeout_s` or the connection's memory limit is exceeded.
    """
    with _in_plain_words(con, timeout_s):
        statement = _the_one_statement(con, sql)
        with _interrupted_after(con, timeout_s):
            if statement.type == duckdb.StatementType.EXPLAIN:
                rows = con.execute(statement).fetchall()
                return pl.DataFrame(rows, schema=["what", "plan"], orient="row")
            result = _bound(con, statement.query)
            table = (result if limit is None else result.limit(limit)).to_arrow_table()
    return _polars_or_problem(table)


def _bound(con: duckdb.DuckDBPyConnection, query: str) -> Any:
    try:
        return con.sql(query)
    except (duckdb.BinderException, duckdb.CatalogException):
        # The same error again, this time with the place in the text.
        con.execute(f"EXPLAIN {query}").fetchall()
        raise


def _the_one_statement(con: duckdb.DuckDBPyConnection, sql: str) -> Any:
    statements = duckdb.extract_statements(sql)
    if len(statements) != 1:
        found = "There is no statement." if not statements else f"There are {len(statements)} statements."
        raise ProblemError(f"{found} {ONLY}")
    (statement,) = statements
    if statement.type not in READS:
        kind = NAMES.get(statement.type, statement.type.name.replace("_", " "))
        raise ProblemError(f"{kind} is not allowed: the project folder is only read. {ONLY}")
    explained = statement.type == duckdb.StatementType.EXPLAIN
    _require_reading(con, EXPLAIN.sub("", statement.query, count=1) if explained else statement.query)
    return statement


def _require_reading(con: duckdb.DuckDBPyConnection, select: str) -> None:
    # A WITH clause may hold INSERT, DELETE or COPY and still count as a SELECT, so every node is looked at.
    ((text,),) = con.execute("SELECT json_serialize_sql(?::VARCHAR)", [select]).fetchall()
    tree = json.loads(text)
    nodes = set(_node_types(tree))
    if tree.get("error", True) or not nodes or nodes - READING_NODES:
        raise ProblemError(f"A part of this statement does more than read. {ONLY}")


def _node_types(tree: Any) -> Iterator[str]:
    if isinstance(tree, dict):
        kind = tree.get("type")
        if isinstance(kind, str) and kind.endswith("_NODE"):
            yield kind
        for branch in tree.values():
            yield from _node_types(branch)
    elif isinstance(tree, list):
        for branch in tree:
            yield from _node_types(branch)


@contextmanager
def _interrupted_after(con: duckdb.DuckDBPyConnection, timeout_s: float | None) -> Iterator[None]:
    if timeout_s is None:
        yield
        return
    timer = threading.Timer(timeout_s, con.interrupt)
    timer.start()
    try:
        yield
    finally:
        timer.cancel()
        timer.join()


@contextmanager
def _in_plain_words(con: duckdb.DuckDBPyConnection, timeout_s: float | None) -> Iterator[None]:
    try:
        yield
    except duckdb.InterruptException as error:
        waited = f" after {timeout_s:g} s" if timeout_s else ""
        raise ProblemError(f"The query was stopped{waited}. Select fewer rows, or group sooner.") from error
    except duckdb.OutOfMemoryException as error:
        raise ProblemError(
            "The query needs more memory than it may use. Select fewer columns or rows, or group sooner."
        ) from error
    except duckdb.PermissionException as error:
        raise ProblemError(
            f"A query reads the tables of the project folder and nothing else: no files, no network. {WHERE_TO_LOOK}"
        ) from error
    except duckdb.Error as error:
        raise ProblemError(_plain(error, con)) from error


def _plain(error: duckdb.Error, con: duckdb.DuckDBPyConnection) -> str:
    first, *rest = [line for line in str(error).splitlines() if line.strip()]
    said = re.sub(r"^[A-Z][\w ]* Error: ", "", first).rstrip(".!")
    hints = [line for line in rest if line.startswith("Did you mean") and "pg_" not in line]
    hints += [f"Like it are{line.partition(':')[2]}." for line in rest if line.startswith("Candidate bindings:")]
    if "Table with name" in first:
        tables = con.execute("SHOW TABLES").fetchall()
        hints.append(f"The tables are {', '.join(sorted({*(name for (name,) in tables), *DERIVED_TABLES}))}.")
    return " ".join([f"The query does not work: {said}{_place(rest, error)}.", *hints, WHERE_TO_LOOK])


def _place(rest: list[str], error: duckdb.Error) -> str:
    for line, marker in pairwise(rest):
        found = re.match(r"LINE (\d+): ", line)
        if found and set(marker.strip()) == {"^"}:
            near = f"at {line[marker.index('^') :][:NEAR_CHARACTERS].strip()!r}"
            # While running, the text is wrapped in another for the limit: its line numbers are not the user's.
            return f" (line {found[1]}, {near})" if isinstance(error, BEFORE_RUNNING) else f" ({near})"
    return ""


def _polars_or_problem(table: Any) -> pl.DataFrame:
    try:
        return to_polars(table)
    except (pl.exceptions.PolarsError, TypeError, ValueError) as error:
        kinds = ", ".join(f"{field.name} ({field.type})" for field in table.schema)
        raise ProblemError(
            f"The result holds a kind of value that cannot be shown, in one of: {kinds}. Turn that column into text "
            "with CAST(... AS VARCHAR)."
        ) from error
