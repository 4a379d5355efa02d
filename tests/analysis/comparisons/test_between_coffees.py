"""Roast and process are properties of coffees: the comparison rests on coffees, not on their many brews."""

from __future__ import annotations

import numpy as np
import polars as pl
import pytest
from scipy import stats

from analysis.comparisons.compare import ComparisonResult, compare_sides
from analysis.comparisons.request import CompareRequest
from schemas.columns import COLUMNS
from schemas.dtypes import frame_schema
from schemas.problem import ProblemError
from schemas.reports import FACT_COLUMNS

EMPTY = pl.DataFrame(schema=frame_schema([COLUMNS[name] for name in FACT_COLUMNS]))
BREWS = 8


def roasted(coffees: dict[str, str], *, seed: int = 5) -> pl.DataFrame:
    """Eight brews of each coffee, coffees one point apart, dark ones a point higher."""
    rng = np.random.default_rng(seed)
    level = {coffee: rng.normal(0, 1) + (roast == "dark") for coffee, roast in coffees.items()}
    rows = [
        {"coffee_id": coffee, "roast_level": roast, "extraction_yield_pct": 19 + level[coffee] + rng.normal(0, 0.3)}
        for coffee, roast in coffees.items()
        for _ in range(BREWS)
    ]
    known = pl.DataFrame(rows).with_columns(method=pl.lit("espresso"), is_void=pl.lit(False))
    return pl.concat([EMPTY, known], how="diagonal_relaxed")


def compared(frame: pl.DataFrame) -> ComparisonResult:
    return compare_sides(frame, CompareRequest("roast_level"), rng=np.random.default_rng(1))


def test_balanced_coffees_give_the_t_test_of_their_means() -> None:
    frame = roasted({f"c-{k}": "dark" if k % 2 else "light" for k in range(8)})
    result = compared(frame)
    (one,) = result.differences
    means = frame.group_by("coffee_id", maintain_order=True).agg(
        pl.col("roast_level").first(), pl.col("extraction_yield_pct").mean()
    )
    light, dark = (
        means.filter(pl.col("roast_level") == roast)["extraction_yield_pct"].to_numpy() for roast in ("light", "dark")
    )
    # Brews nested in coffees, balanced: the classical analysis is a two-sample t test of coffee means, 6 df.
    told = stats.ttest_ind(light, dark).confidence_interval(0.95)
    assert one.df == pytest.approx(6.0, rel=1e-3)
    assert (one.low, one.high) == pytest.approx((told.low, told.high), rel=1e-4)
    assert result.scope == "for coffees like these"


def test_forty_brews_of_four_coffees_are_four_coffees() -> None:
    with pytest.raises(ProblemError, match="these brews are of 4 coffees: too few to tell a roast from the coffees"):
        compared(roasted({"c-1": "light", "c-2": "light", "c-3": "dark", "c-4": "dark"}))
