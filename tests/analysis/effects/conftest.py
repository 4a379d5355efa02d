from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import numpy as np
import polars as pl
import pytest

from schemas.columns import COLUMNS
from schemas.dtypes import DTYPE_OF_KIND
from schemas.reports import FACT_COLUMNS

REFERENCE = Path(__file__).parents[2] / "reference"


def _facts(n: int, **given: Any) -> pl.DataFrame:
    """`n` brew facts, every column there; null unless given or needed by all brews."""
    start = datetime(2026, 4, 1, 8, tzinfo=UTC)
    values: dict[str, Any] = {
        "brew_id": [f"b{k:03d}" for k in range(n)],
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
            pl.Series(name, values.get(name, [None] * n), dtype=DTYPE_OF_KIND[COLUMNS[name].kind])
            for name in FACT_COLUMNS
        ]
    )


def _trial(
    *,
    seed: int,
    n: int = 90,
    coffees: int = 6,
    grinders: int = 1,
    coffee_sd: float = 1.0,
    noise: float = 0.6,
    curve: float = 0.0,
) -> pl.DataFrame:
    """Invented espresso brews: 0.4 points a step, 0.1 a degree, 3 a unit of ratio, -1.8 when channeled."""
    rng = np.random.default_rng(seed)
    coffee, grinder = rng.integers(coffees, size=n), rng.integers(grinders, size=n)
    grind = np.round(rng.normal(scale=1.2, size=n) * 2) / 2
    temp = np.round(rng.normal(93, 1.5, size=n), 1)
    ratio = np.round(rng.normal(2.1, 0.2, size=n), 2)
    channeled = rng.random(n) < 0.25
    level = rng.normal(scale=coffee_sd, size=coffees)
    mean = 20 + level[coffee] + 0.4 * grind + curve * grind**2 + 0.1 * (temp - 93) + 3 * (ratio - 2.1)
    return _facts(
        n,
        coffee_id=[f"c{k}" for k in coffee],
        grinder_id=[f"g{k}" for k in grinder],
        grind_steps_finer=grind,
        water_temp_c=temp,
        beverage_ratio=ratio,
        channeled=[bool(value) for value in channeled],
        extraction_yield_pct=mean - 1.8 * channeled + rng.normal(scale=noise, size=n),
    )


@pytest.fixture(scope="session")
def make_facts() -> Callable[..., pl.DataFrame]:
    return _facts


@pytest.fixture(scope="session")
def make_trial() -> Callable[..., pl.DataFrame]:
    return _trial


@pytest.fixture(scope="session")
def reference() -> Callable[[str], pl.DataFrame]:
    """A table under tests/reference, numbers inferred from all its rows."""
    return lambda name: pl.read_csv(
        REFERENCE / name, infer_schema_length=None, schema_overrides={"group": pl.String, "brew_id": pl.String}
    )
