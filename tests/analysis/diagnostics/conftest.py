from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import polars as pl
import pytest

from schemas.columns import COLUMNS
from schemas.dtypes import DTYPE_OF_KIND
from schemas.reports import FACT_COLUMNS

REFERENCE = Path(__file__).parents[2] / "reference" / "diagnostics"


def _facts(n: int, **given: Any) -> pl.DataFrame:
    """`n` brew facts ten minutes apart, every column there; null unless given or needed by all brews."""
    start = datetime(2026, 4, 1, 8, tzinfo=UTC)
    values: dict[str, Any] = {
        "brew_id": [f"b{k:02d}" for k in range(1, n + 1)],
        "brewed_at": [start + timedelta(minutes=10 * k) for k in range(n)],
        "coffee_id": ["c1"] * n,
        "grinder_id": ["g1"] * n,
        "method": ["espresso"] * n,
        "balance_used": ["percolation"] * n,
        "dose_g": [18.0] * n,
        "is_void": [False] * n,
    }
    values |= {name: list(column) for name, column in given.items()}
    return pl.DataFrame(
        [
            pl.Series(name, values.get(name, [None] * n), dtype=DTYPE_OF_KIND[COLUMNS[name].kind], strict=False)
            for name in FACT_COLUMNS
        ]
    )


@pytest.fixture(scope="session")
def make_facts() -> Callable[..., pl.DataFrame]:
    return _facts


@pytest.fixture(scope="session")
def read_expected() -> Callable[[str], pl.DataFrame]:
    return lambda name: pl.read_csv(REFERENCE / "expected" / f"{name}.csv", null_values="NA")


def _logged(name: str) -> pl.DataFrame:
    frame = pl.read_csv(REFERENCE / name)
    return _facts(frame.height, **frame.to_dict(as_series=False))


@pytest.fixture(scope="session")
def logged_brews() -> pl.DataFrame:
    """44 invented brews of 4 coffees in 4 sessions: tests/reference/diagnostics/brews.csv."""
    return _logged("brews.csv")


@pytest.fixture(scope="session")
def logged_blends() -> pl.DataFrame:
    """48 invented brews of 4 coffees, one 3 points off: tests/reference/diagnostics/blends.csv."""
    return _logged("blends.csv")
