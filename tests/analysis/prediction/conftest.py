from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import polars as pl
import pytest

from tests.reference.prediction.coverage import facts_of


def _recipes(*, seed: int = 5, n: int = 60, coffees: int = 6, noise: float = 0.5, **more: Any) -> pl.DataFrame:
    """Invented espresso brews, strength by the mass balance; `more` replaces columns."""
    rng = np.random.default_rng(seed)
    coffee = np.arange(n) % coffees
    grind = np.round(rng.normal(scale=1.2, size=n) * 2) / 2
    temp = np.round(rng.normal(93, 1.5, size=n), 1)
    ratio = np.round(rng.normal(2.1, 0.12, size=n), 2)
    level = rng.normal(size=coffees)[coffee]
    made = 20 + level + 0.4 * grind + 0.1 * (temp - 93) + 3 * (ratio - 2.1) + noise * rng.normal(size=n)
    given: dict[str, Any] = {
        "coffee_id": [f"c{k}" for k in coffee],
        "grind_steps_finer": list(grind),
        "water_temp_c": list(temp),
        "beverage_ratio": list(ratio),
        "extraction_yield_pct": list(made),
        "cup_tds_pct": list(made / ratio),
    }
    return facts_of(given | more, n)


@pytest.fixture(scope="session")
def make_recipes() -> Callable[..., pl.DataFrame]:
    return _recipes


@pytest.fixture(scope="session")
def recipes() -> pl.DataFrame:
    return _recipes()
