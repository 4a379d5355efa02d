"""Errors of weighing and reading that differ from brew to brew: in a factor, and in factor and response at once."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import polars as pl

from analysis.outcomes.weighed_slopes import WEIGHED, Floats, weighed_slopes
from analysis.uncertainty import weighing_variance
from schemas.lab import LabSettings

DEFAULT_OF = {"evaporated_g": "water_g", "bypass_g": "water_g"}
"""Masses that take the default of another where no weighing scale is named."""


@dataclass(frozen=True, slots=True)
class FactorNoise:
    """Mean over brews of the errors' variances and covariances, in the columns' units.

    `within` (k, k) among the factors; `with_response` (k,) between each factor and the response.
    """

    factors: tuple[str, ...]
    within: Floats
    with_response: Floats


def factor_noise(
    brews: pl.DataFrame,
    response: str,
    factors: Sequence[str],
    *,
    instruments: pl.DataFrame,
    settings: LabSettings,
) -> FactorNoise:
    """What the uncertainty budget says of errors that factors carry, alone and together with the response.

    Only errors that differ from brew to brew count: of a named weighing scale its display (tare and load), since its
    bias is the same in all; without one the lab's default, taken whole. Facts with the factors and masses known.
    """
    slopes = [weighed_slopes(brews, name) for name in factors]
    of_response = weighed_slopes(brews, response)
    quantities = sorted({name for one in (*slopes, of_response) for name in one})
    variance = {name: brew_variance(brews, name, instruments, settings) for name in quantities}

    def together(first: Mapping[str, Floats], second: Mapping[str, Floats]) -> float:
        shared = first.keys() & second.keys()
        return float(sum(np.mean(first[name] * second[name] * variance[name]) for name in shared))

    within = np.array([[together(one, two) for two in slopes] for one in slopes]).reshape(len(slopes), len(slopes))
    return FactorNoise(tuple(factors), within, np.array([together(one, of_response) for one in slopes]))


def brew_variance(brews: pl.DataFrame, quantity: str, instruments: pl.DataFrame, settings: LabSettings) -> Floats:
    """Variance of the error of one quantity in each brew, shape (n,), in its unit squared; 0 where none is declared."""
    declared = settings.default_u.get(DEFAULT_OF.get(quantity, quantity), 0.0) ** 2
    if quantity not in WEIGHED:
        return np.full(brews.height, declared)
    steps = instruments.select(pl.col("instrument_id").alias("scale_id"), pl.col("resolution").cast(pl.Float64))
    joined = brews.select("scale_id").join(steps, on="scale_id", how="left", maintain_order="left")
    of_scale = weighing_variance(standard_uncertainty=pl.lit(0.0), resolution=pl.col("resolution").fill_null(0.0))
    named = pl.col("scale_id").is_not_null()
    return joined.select(pl.when(named).then(of_scale).otherwise(declared)).to_series().cast(pl.Float64).to_numpy()
