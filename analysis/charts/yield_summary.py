"""Mean yield of groups of brews with its 95 % interval: the numbers behind the rows of a chart."""

from __future__ import annotations

import polars as pl
from scipy.special import stdtrit

from analysis.charts.group_rows import FEWEST_FOR_INTERVAL


def yield_summary(brews: pl.DataFrame, by: tuple[str, ...]) -> pl.DataFrame:
    """One row per group: `by`, `n`, `mean`, `sd`, `low`, `high` (yield, %); no interval below five brews.

    The interval is mean +- t(n - 1) s / sqrt(n).
    """
    groups = (
        brews.filter(pl.col("y").is_not_null())
        .group_by(by, maintain_order=True)
        .agg(pl.len().alias("n"), pl.col("y").mean().alias("mean"), pl.col("y").std().alias("sd"))
    )
    factors = [float(stdtrit(n - 1, 0.975)) if n >= FEWEST_FOR_INTERVAL else None for n in groups["n"]]
    half = pl.Series("half", factors, dtype=pl.Float64) * groups["sd"] / groups["n"].sqrt()
    return groups.with_columns((pl.col("mean") - half).alias("low"), (pl.col("mean") + half).alias("high"))
