from __future__ import annotations

import csv
from collections.abc import Callable
from pathlib import Path

import polars as pl
import pytest

from schemas.contracts.choices import CHOICES

REFERENCE = Path(__file__).parents[3] / "reference" / "difference_tests"


@pytest.fixture(scope="session")
def from_r() -> dict[tuple[str, str], float]:
    """What R says, by what and arguments."""
    with (REFERENCE / "expected.csv").open() as lines:
        return {(row["what"], row["arguments"]): float(row["value"]) for row in csv.DictReader(lines)}


def choices(rows: list[dict[str, object]]) -> pl.DataFrame:
    """Rows of one test; what is not said is empty."""
    text = {name: pl.String() for name in CHOICES.column_names}
    schema = text | {"correct": pl.Boolean(), "replicate": pl.Int64()}
    usual = {"test_id": "t", "kind": "triangle", "brew_id_a": "A1", "brew_id_b": "B1", "session_id": "s"}
    return pl.DataFrame([dict.fromkeys(schema) | usual | row for row in rows], schema=schema, orient="row")


@pytest.fixture(scope="session")
def make_choices() -> Callable[[list[dict[str, object]]], pl.DataFrame]:
    return choices


@pytest.fixture(scope="session")
def right_and_wrong() -> Callable[..., pl.DataFrame]:
    """Answers of `n` palates, `right` of them right, each palate answering `each` times in a row."""

    def make(right: int, n: int, *, each: int = 1, **more: object) -> pl.DataFrame:
        rows = [{"assessor": f"p{i // each}", "replicate": i % each, "correct": i < right, **more} for i in range(n)]
        return choices(rows)

    return make


@pytest.fixture(scope="session")
def picks() -> Callable[..., pl.DataFrame]:
    """Paired choices of `n` palates, `a` of them for A1."""

    def make(a: int, n: int, *, each: int = 1, orders: str | None = None, **more: object) -> pl.DataFrame:
        rows = [
            {
                "kind": "paired",
                "assessor": f"p{i // each}",
                "replicate": i % each,
                "chosen_brew_id": "A1" if i < a else "B1",
                "serving_order": orders.split()[i] if orders else None,
                **more,
            }
            for i in range(n)
        ]
        return choices(rows)

    return make
