"""How readings of one drop scatter, and how drops of one brew differ: what more readings or samples can shrink."""

from __future__ import annotations

import math
from dataclasses import dataclass

import polars as pl

from analysis.repeatability import POOL, pooled, within_brews
from schemas.problem import ProblemError

SAMPLE = ("brew", "instrument_id", "sample_no")


@dataclass(frozen=True, slots=True)
class DropScatter:
    """Scatter of one instrument on one method, pooled over brews, in % of strength.

    `reading_pct` is the standard deviation of readings of one drop (null if no drop was read twice), `sample_pct` that
    of drops beyond their readings (null if no brew gave two). Without two drops of any brew, what differs between
    drops is not known. `sample_mean_pct` is the scatter of a sample's mean as it was taken.
    """

    reading_pct: float | None
    reading_df: int
    sample_pct: float | None
    sample_mean_pct: float | None
    sample_df: int

    @property
    def knows_samples(self) -> bool:
        """Whether any brew was sampled twice."""
        return self.sample_mean_pct is not None

    @property
    def df(self) -> int:
        """Degrees of freedom behind the scatter of a brew's mean."""
        return self.sample_df if self.knows_samples else self.reading_df

    def variance(self, *, samples: int, readings_per_sample: int) -> float | None:
        """Variance of a brew's mean strength, in %^2; null where the data do not say."""
        if self.knows_samples:
            if self.reading_pct is None or self.sample_pct is None:
                once = readings_per_sample == 1 and self.sample_mean_pct is not None
                return self.sample_mean_pct**2 / samples if once and self.sample_mean_pct is not None else None
            return (self.sample_pct**2 + self.reading_pct**2 / readings_per_sample) / samples
        if self.reading_pct is None or samples > 1:
            return None
        return self.reading_pct**2 / readings_per_sample


def drop_scatter(readings: pl.DataFrame, *, instrument_id: str | None, method: str) -> DropScatter:
    """Pool the readings of one instrument and method; void brews stay out.

    `readings` has the columns of `analysis.repeatability.within_brews`. A sample's mean scatters by its drop and by
    1/m of the readings' variance, m the harmonic mean of readings per sample.
    """
    same = pl.col("instrument_id").eq_missing(pl.lit(instrument_id, pl.String)) & (pl.col("method") == method)
    used = readings.filter(same & ~pl.col("is_void"))
    if used.is_empty():
        raise ProblemError(f"No readings of {method} brews on {instrument_id or 'an unnamed instrument'}.")
    drops = used.group_by(SAMPLE, maintain_order=True).agg(
        n=pl.len(), ss=(pl.col("strength_pct").var(ddof=1) * (pl.len() - 1)).fill_null(0.0)
    )
    reading_df = int((drops["n"] - 1).sum())
    reading_variance = math.fsum(drops["ss"]) / reading_df if reading_df else None
    pool = pooled(within_brews(used), POOL).row(0, named=True)
    if not pool["df_samples"]:
        return DropScatter(_root(reading_variance), reading_df, None, None, 0)
    mean_variance = pool["ss_samples"] / pool["df_samples"]
    several = drops.filter(pl.len().over("brew") > 1)
    per_mean = math.fsum(1 / n for n in several["n"]) / several.height
    between = None if reading_variance is None else max(mean_variance - reading_variance * per_mean, 0.0)
    return DropScatter(
        _root(reading_variance), reading_df, _root(between), math.sqrt(mean_variance), int(pool["df_samples"])
    )


def _root(variance: float | None) -> float | None:
    return None if variance is None else math.sqrt(variance)
