"""How readings of one drop scatter, and how drops of one brew differ: what more readings or samples can shrink."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import polars as pl

from analysis.repeatability import within_brews
from schemas.problem import ProblemError

SAMPLE = ("brew", "instrument_id", "sample_no")


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
        if self.sample_mean_pct is not None:
            if self.reading_pct is None or self.sample_pct is None:
                return self.sample_mean_pct**2 / samples if readings_per_sample == 1 else None
            return (self.sample_pct**2 + self.reading_pct**2 / readings_per_sample) / samples
        if self.reading_pct is None or samples > 1:
            return None
        return self.reading_pct**2 / readings_per_sample


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


def _pooled_drops(used: pl.DataFrame) -> DropScatter:
    """Scatter within and between drops. A drop's mean scatters by its drop and by the readings' variance over m.

    For drops read unlike often, 1/m is averaged over the drops of brews that gave several.
    """
    drops = used.group_by(SAMPLE, maintain_order=True).agg(
        n=pl.len(), ss=(pl.col("strength_pct").var(ddof=1) * (pl.len() - 1)).fill_null(0.0)
    )
    reading_df = int((drops["n"] - 1).sum())
    reading_variance = math.fsum(drops["ss"]) / reading_df if reading_df else None
    groups = within_brews(used)
    sample_df = int((groups["n_samples"] - 1).sum())
    if not sample_df:
        return DropScatter(_root(reading_variance), reading_df, None, None, 0)
    mean_variance = math.fsum(groups["ss_samples"]) / sample_df
    several = drops.filter(pl.len().over("brew") > 1)
    per_mean = math.fsum(1 / n for n in several["n"]) / several.height
    between = None if reading_variance is None else max(mean_variance - reading_variance * per_mean, 0.0)
    return DropScatter(_root(reading_variance), reading_df, _root(between), math.sqrt(mean_variance), sample_df)


def _root(variance: float | None) -> float | None:
    return None if variance is None else math.sqrt(variance)
