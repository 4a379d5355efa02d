"""Channeled against clean brews, compared within each coffee."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import polars as pl
from numpy.typing import NDArray
from scipy.special import stdtrit

FEWEST_DF = 3


@dataclass(frozen=True, slots=True)
class WithinDifference:
    """Channeled less clean, in points of yield, with its 95 % interval; counts of what it rests on."""

    estimate: float
    low: float
    high: float
    df: int
    n_channeled: int
    n_clean: int
    n_coffees: int


def channeled_less_clean(brews: pl.DataFrame) -> WithinDifference | None:
    """Difference within coffee, or None when fewer than three degrees of freedom are left.

    Least squares with one level per coffee, over coffees that have both kinds; standard error HC3 (MacKinnon and
    White 1985), t with n - coffees - 1 degrees of freedom.
    """
    seen = brews.filter(pl.col("y").is_not_null(), pl.col("channeled").is_not_null())
    seen = seen.filter((pl.col("channeled").n_unique() > 1).over("coffee_id"))
    n_coffees = seen["coffee_id"].n_unique()
    df = seen.height - n_coffees - 1
    if df < FEWEST_DF:
        return None
    centred = seen.select(
        (pl.col("y") - pl.col("y").mean().over("coffee_id")).alias("y"),
        (pl.col("channeled").cast(pl.Float64) - pl.col("channeled").mean().over("coffee_id")).alias("x"),
        pl.len().over("coffee_id").cast(pl.Float64).alias("n"),
    )
    x, y = centred["x"].to_numpy(), centred["y"].to_numpy()
    fit = _slope_hc3(x, y, 1 / centred["n"].to_numpy())
    if fit is None:
        return None
    slope, error = fit
    half = float(stdtrit(df, 0.975)) * error
    n_channeled = int(seen["channeled"].sum())
    return WithinDifference(slope, slope - half, slope + half, df, n_channeled, seen.height - n_channeled, n_coffees)


def _slope_hc3(
    x: NDArray[np.float64], y: NDArray[np.float64], level_leverage: NDArray[np.float64]
) -> tuple[float, float] | None:
    """Slope and HC3 standard error of y on x, both centred by group; None where one brew decides alone."""
    sxx = float(x @ x)
    slope = float(x @ y) / sxx
    leverage = level_leverage + x**2 / sxx
    if bool(np.any(leverage > 1 - 1e-9)):
        return None
    scaled = x * (y - slope * x) / (1 - leverage)
    return slope, float(np.sqrt(scaled @ scaled)) / sxx
