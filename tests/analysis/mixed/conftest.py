from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import polars as pl
import pytest

from analysis.mixed.model import RandomPart

REFERENCE = Path(__file__).parents[2] / "reference"


@pytest.fixture
def table() -> Callable[[str], pl.DataFrame]:
    """A table under tests/reference, numbers inferred from all its rows."""
    return lambda name: pl.read_csv(REFERENCE / name, infer_schema_length=None)


@pytest.fixture
def crossed(table):
    """Response, design and parts of a case of `mixed_crossed`."""

    def read(case: str):
        rows = table(f"mixed_crossed/{case}.csv").cast({"y": pl.Float64})
        fixed = [rows[name] for name in rows.columns if name.startswith("x_")]
        names = [name[2:] for name in rows.columns if name.startswith("g_")]
        parts = [
            RandomPart(name, rows[f"g_{name}"].to_numpy(), rows[f"s_{name}"].cast(pl.Float64).to_numpy())
            for name in names
        ]
        return rows["y"].to_numpy(), np.column_stack([np.ones(rows.height), *fixed]).astype(float), parts

    return read


@pytest.fixture
def expected(table):
    """Numbers of a case of `mixed_crossed`, in the order of its terms."""

    def read(case: str, quantity: str) -> np.ndarray:
        found = table("mixed_crossed/expected.csv").filter(case=case, quantity=quantity)["value"].to_numpy()
        assert found.size
        return found

    return read
