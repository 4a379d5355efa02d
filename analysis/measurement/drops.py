"""How readings of one drop scatter, and how drops of one brew differ: what more readings or samples can shrink."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import polars as pl

from analysis.repeatability import POOL, between_samples, mean_df, mean_squares, mean_variance, pooled, within_brews
from analysis.words import span
from schemas.problem import ProblemError

SAMPLE = ("brew", "instrument_id", "read_by", "sample_no")
WIDE_SHARE, WIDE_RATIO = 0.5, 2.0
FEWEST_FOR_WIDE = 4
"""A brew that makes over half of the scatter, and over twice its part of the degrees of freedom, deserves a look."""


@dataclass(frozen=True, slots=True)
class DropScatter:
    """Scatter of one instrument on one method, pooled over brews, in % of strength.

    `reading_pct` is the standard deviation of readings of one drop (null if no drop was read twice), `sample_pct` that
    of drops beyond their readings (null if no brew gave two). Without two drops of any brew, what differs between
    drops is not known. `sample_mean_pct` is the scatter of a sample's mean as it was taken. `other_methods`
    says that this method has no repeats and the instrument's other methods stand in.
    """

    reading_pct: float | None
    reading_df: int
    sample_pct: float | None
    sample_mean_pct: float | None
    sample_df: int
    other_methods: bool = False
    per_mean: float = 0.0

    @property
    def knows_samples(self) -> bool:
        """Whether any brew was sampled twice."""
        return self.sample_mean_pct is not None

    @property
    def samples_alike(self) -> bool:
        """Whether drops of a brew differ no more than their readings make them: these alone then say the scatter."""
        return self.sample_pct == 0 and self.reading_df > 0

    @property
    def all_equal(self) -> bool:
        """Whether all repeats that there are showed one and the same value."""
        return self.df > 0 and not self.reading_pct and not self.sample_mean_pct

    @property
    def df(self) -> int:
        """Degrees of freedom of the repeats that the scatter of a brew's mean rests on: samples, or readings."""
        return self.sample_df if self.knows_samples and not self.samples_alike else self.reading_df

    def variance(self, *, samples: int, readings_per_sample: int) -> float | None:
        """Variance of a brew's mean strength, in %^2; null where the data do not say."""
        if self.sample_mean_pct is not None:
            if self.reading_pct is None or self.sample_pct is None:
                return self.sample_mean_pct**2 / samples if readings_per_sample == 1 else None
            return mean_variance(
                between=self.sample_pct**2,
                within=self.reading_pct**2,
                sample_weight=1 / samples,
                n=samples * readings_per_sample,
            )
        if self.reading_pct is None or samples > 1:
            return None
        return self.reading_pct**2 / readings_per_sample

    def df_of_mean(self, *, samples: int, readings_per_sample: int) -> float:
        """Effective degrees of freedom of `variance`; those of readings where these alone say the scatter."""
        variance = self.variance(samples=samples, readings_per_sample=readings_per_sample)
        if not variance or self.reading_pct is None or self.sample_mean_pct is None or self.samples_alike:
            return self.df
        return mean_df(
            variance=variance,
            of_samples=self.sample_mean_pct**2,
            of_readings=self.reading_pct**2,
            per_mean=self.per_mean,
            sample_weight=1 / samples,
            n=samples * readings_per_sample,
            df_samples=self.sample_df,
            df=self.reading_df,
        )


def drop_scatter(readings: pl.DataFrame, *, instrument_id: str | None, method: str) -> DropScatter:
    """Pool the readings of one instrument and method; without repeats there, those of the instrument's other methods.

    `readings` has the columns of `analysis.repeatability.within_brews`; void brews stay out.
    """
    on_it = pl.col("instrument_id").eq_missing(pl.lit(instrument_id, pl.String)) & ~pl.col("is_void")
    of_instrument = readings.filter(on_it)
    if of_instrument.is_empty():
        raise ProblemError(
            f"No readings on {instrument_id or 'an unnamed instrument'}. Name an instrument that was used."
        )
    found = _pooled_drops(of_instrument.filter(pl.col("method") == method))
    if found.df > 0:
        return found
    return replace(_pooled_drops(of_instrument), other_methods=True)


def widest_brew(readings: pl.DataFrame, *, instrument_id: str | None, method: str) -> str:
    """A sentence on the brew that makes most of the scatter of readings of one drop; empty where none does.

    `readings` as for `drop_scatter`, with brew_id.
    """
    on_it = pl.col("instrument_id").eq_missing(pl.lit(instrument_id, pl.String)) & ~pl.col("is_void")
    strength = pl.col("strength_pct")
    brews = (
        readings.filter(on_it, pl.col("method") == method, strength.is_not_null())
        .with_columns(squares=(strength - strength.mean().over(SAMPLE)) ** 2)
        .group_by("brew_id")
        .agg(
            pl.col("squares").sum(), df=pl.len() - pl.struct(SAMPLE).n_unique(), low=strength.min(), high=strength.max()
        )
        .sort("squares", "brew_id", descending=[True, False])
    )
    whole, df = math.fsum(brews["squares"]), int(brews["df"].sum())
    if df < FEWEST_FOR_WIDE or not whole:
        return ""
    row = brews.row(0, named=True)
    if row["squares"] / whole <= max(WIDE_SHARE, WIDE_RATIO * row["df"] / df):
        return ""
    return (
        f"{round(100 * row['squares'] / whole)} % of the scatter of readings is that of one brew: {row['brew_id']} was "
        f"read {span(row['low'], row['high'], 2)} %. Check its record first."
    )


def _pooled_drops(used: pl.DataFrame) -> DropScatter:
    """Scatter within and between drops. A drop's mean scatters by its drop and by the readings' variance over m."""
    one = mean_squares(pooled(within_brews(used).with_columns(pl.lit("all").alias("instrument_id")), POOL[:1]))
    if one.is_empty():
        return DropScatter(None, 0, None, None, 0)
    row = one.row(0, named=True)
    of_readings, of_samples = row["of_readings"], row["of_samples"]
    between = None
    if of_readings is not None and of_samples is not None:
        between = max(between_samples(of_samples=of_samples, of_readings=of_readings, per_mean=row["per_mean"]), 0.0)
    return DropScatter(
        _root(of_readings), row["df"], _root(between), _root(of_samples), row["df_samples"], per_mean=row["per_mean"]
    )


def _root(variance: float | None) -> float | None:
    return None if variance is None else math.sqrt(variance)
