"""Residuals of one model as marks: fitted value, place in time, normal score."""

from __future__ import annotations

import polars as pl
from scipy.special import ndtri

from analysis.charts.brews import BrewMarks

FIELDS = ("i", "c", "state", "fitted", "residual", "order", "score")


def residual_marks(residuals: pl.DataFrame, marks: BrewMarks) -> pl.DataFrame:
    """Residuals of the drawn brews (columns FIELDS); order and normal scores count every brew of the model.

    Brews are in order of time. Normal scores are Blom's, (k - 3/8) / (n + 1/4) (Blom 1958).
    """
    ordered = marks.all.select("brew_id").with_row_index("when").join(residuals, on="brew_id").sort("when")
    n = ordered.height
    ranks = ordered["residual"].rank("ordinal").cast(pl.Float64)
    scores = pl.Series("score", ndtri((ranks.to_numpy() - 0.375) / (n + 0.25)), dtype=pl.Float64)
    placed = ordered.with_columns(scores, pl.int_range(1, pl.len() + 1).alias("order"))
    drawn = placed.join(marks.drawn.select("brew_id", "i", "c", "state"), on="brew_id").sort("i")
    return drawn.with_columns(pl.col("fitted", "residual", "score").round(4)).select(FIELDS)
