from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from typing import Any

import numpy as np
import polars as pl
import pytest

from schemas.columns import COLUMNS
from schemas.dtypes import DTYPE_OF_KIND
from schemas.reports import FACT_COLUMNS


def _facts(n: int, **given: Any) -> pl.DataFrame:
    """`n` espresso facts, every column there; null unless given or needed by all brews."""
    start = datetime(2026, 4, 1, 8, tzinfo=UTC)
    values: dict[str, Any] = {
        "brew_id": [f"b{k:03d}" for k in range(n)],
        "brewed_at": [start + timedelta(hours=3 * k) for k in range(n)],
        "brewed_on": [date(2026, 4, 1) + timedelta(days=k // 8) for k in range(n)],
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


def _log(
    *,
    seed: int,
    n: int = 60,
    effect: float = -1.9,
    log_odds: float = 0.7,
    unseen: float = 0.0,
    noise: float = 0.5,
    rate: float = 0.25,
) -> pl.DataFrame:
    """Invented practice shots with known truth.

    3 coffees, 12 sessions, 2 operators, 7 recipes a coffee by dial; the log odds of channeling rise by `log_odds` a
    step finer, and channeled shots yield `effect` points more. `unseen` is the share nobody looked at, by chance.
    """
    rng = np.random.default_rng(seed)
    coffee, session = rng.integers(3, size=n), np.arange(n) * 12 // n
    grind = rng.integers(-3, 4, size=n).astype(float)
    dose = np.round(18 + rng.normal(scale=0.1, size=n), 1)
    operator = rng.integers(2, size=n)
    base = np.log(rate / (1 - rate))
    channeled = rng.random(n) < 1 / (1 + np.exp(-(base + log_odds * grind)))
    level = rng.normal(scale=0.8, size=3)
    yielded = 19.5 + level[coffee] + 0.3 * grind + effect * channeled + rng.normal(scale=noise, size=n)
    looked = rng.random(n) >= unseen
    grade = np.where(rng.random(n) < 0.6, "slight", "severe")
    return _facts(
        n,
        coffee_id=[f"c{k}" for k in coffee],
        session_id=[f"s{k:02d}" for k in session],
        operator=[("Ada", "Bo")[k] for k in operator],
        recipe_id=[f"r{int(step) + 3}" for step in grind],
        grind_steps_finer=grind,
        dose_g=dose,
        beverage_ratio=np.round(2.0 + rng.normal(scale=0.02, size=n), 3),
        channeled=[bool(c) if seen else None for c, seen in zip(channeled, looked, strict=True)],
        channeling=[
            (str(g) if c else "none") if seen else None for c, g, seen in zip(channeled, grade, looked, strict=True)
        ],
        extraction_yield_pct=np.round(yielded, 3),
    )


@pytest.fixture(scope="session")
def make_facts() -> Callable[..., pl.DataFrame]:
    return _facts


@pytest.fixture(scope="session")
def make_log() -> Callable[..., pl.DataFrame]:
    return _log
