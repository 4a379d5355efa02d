"""The same samples read on two instruments: one pair of means per brew, and how far readings scatter inside a pair.

A pair is a brew, because what two samples of one brew share (oil, colour, haze) moves both of their differences. Inside
it only samples with the same `sample_no` on both instruments count: their own strength then cancels in the difference.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import polars as pl

Floats = npt.NDArray[np.float64]
OVEN = "drying oven"
"""The name of the gravimetric reference where it takes the place of an instrument."""
KEY = ("brew_id", "sample_no")


@dataclass(frozen=True, slots=True)
class Scatter:
    """One source of scatter inside pairs, in %^2, pooled over brews.

    `single` is its share in the variance of a difference of two single readings beyond the variance of the difference
    of two brew means; `mean` its share in the variance of a brew mean. Both are 0 or more.
    """

    variance: float
    df: int
    single: float
    mean: float


@dataclass(frozen=True, slots=True)
class Pairs:
    """Means per brew on instruments `a` (`x_pct`) and `b` (`y_pct`), shape (n,), ordered by `brew_ids`.

    `readings_a` and `readings_b` are scatters of single readings of one sample; `samples` is the scatter of sample
    differences within brews. `n_left_out` counts readings of the two that found no partner.
    """

    a: str
    b: str
    brew_ids: tuple[str, ...]
    x_pct: Floats
    y_pct: Floats
    readings_a: Scatter
    readings_b: Scatter
    samples: Scatter
    n_samples: int
    n_readings_a: int
    n_readings_b: int
    n_left_out: int

    @property
    def inside(self) -> tuple[Scatter, ...]:
        """Every scatter that averaging has made smaller."""
        return tuple(part for part in (self.readings_a, self.readings_b, self.samples) if part.df > 0)


def reference_as_readings(reference: pl.DataFrame, *, name: str = OVEN) -> pl.DataFrame:
    """Strengths by drying as if read on an instrument called `name`, ready to stand below readings.

    `reference` has brew_id, sample_no (null = 1) and tds_pct, one row per dried replicate.
    """
    return reference.select(
        pl.col("brew_id").cast(pl.String),
        instrument_id=pl.lit(name),
        sample_no=pl.col("sample_no").cast(pl.Int64).fill_null(1),
        strength_pct=pl.col("tds_pct").cast(pl.Float64),
        is_void=pl.lit(False),
    )


def usable(readings: pl.DataFrame) -> pl.DataFrame:
    """Readings that say a strength on a named instrument, of brews that are not void.

    Columns in: brew_id, instrument_id, sample_no, strength_pct, is_void; an empty sample_no is 1.
    """
    return (
        readings.select(*KEY, "instrument_id", "strength_pct", "is_void")
        .filter(
            pl.col("strength_pct").is_finite().fill_null(False),
            ~pl.col("is_void").fill_null(False),
            pl.col("instrument_id").is_not_null(),
        )
        .with_columns(pl.col("sample_no").fill_null(1))
        .sort(*KEY, "instrument_id", "strength_pct")
    )


def pair_up(readings: pl.DataFrame, a: str, b: str) -> Pairs:
    """Pair the samples read on both instruments; `readings` as for `usable`, other instruments are passed over."""
    used = usable(readings).filter(pl.col("instrument_id").is_in([a, b]))
    means = used.group_by(*KEY, "instrument_id", maintain_order=True).agg(
        mean=pl.col("strength_pct").mean(),
        n=pl.len().cast(pl.Float64),
        squares=((pl.col("strength_pct") - pl.col("strength_pct").mean()) ** 2).sum(),
    )
    of_b = means.filter(instrument_id=b).drop("instrument_id")
    both = means.filter(instrument_id=a).drop("instrument_id").join(of_b, on=KEY, suffix="_b").sort(KEY)
    brew_ids = both["brew_id"].unique(maintain_order=True)
    brew = both["brew_id"].rle_id().to_numpy().astype(np.int64)
    columns = {name: both[name].to_numpy().astype(np.float64) for name in both.columns if name not in KEY}
    n_a, n_b = int(columns["n"].sum()), int(columns["n_b"].sum())
    per_brew = np.bincount(brew).astype(np.float64)
    x = np.bincount(brew, columns["mean"], minlength=per_brew.size) / per_brew
    y = np.bincount(brew, columns["mean_b"], minlength=per_brew.size) / per_brew
    apart = columns["mean_b"] - columns["mean"] - (y - x)[brew]
    return Pairs(
        a=a,
        b=b,
        brew_ids=tuple(brew_ids.to_list()),
        x_pct=x,
        y_pct=y,
        readings_a=_of_readings(brew, per_brew, columns["n"], columns["squares"]),
        readings_b=_of_readings(brew, per_brew, columns["n_b"], columns["squares_b"]),
        samples=_of_samples(brew.size, per_brew, apart),
        n_samples=brew.size,
        n_readings_a=n_a,
        n_readings_b=n_b,
        n_left_out=used.height - n_a - n_b,
    )


def pooled_readings(readings: pl.DataFrame, instrument: str) -> Scatter:
    """Scatter of single readings about their sample's mean, over all samples of one instrument, paired or not."""
    samples = (
        usable(readings)
        .filter(instrument_id=instrument)
        .group_by(KEY, maintain_order=True)
        .agg(n=pl.len().cast(pl.Int64), squares=((pl.col("strength_pct") - pl.col("strength_pct").mean()) ** 2).sum())
    )
    df = int(samples["n"].sum()) - samples.height
    return Scatter(math.fsum(samples["squares"]) / df if df else 0.0, df, 0.0, 1.0)


def _of_readings(brew: npt.NDArray[np.int64], per_brew: Floats, n: Floats, squares: Floats) -> Scatter:
    """Scatter of readings within samples, pooled.

    With S samples of r readings in a brew, its mean has 1/(S r) of the variance of a reading, and a single reading the
    whole; the scatter of sample differences, which `_of_samples` adds in full, already holds 1/r of it. Bland and
    Altman 1999, 5.2 (unequal replicates), is the case S = 1; the second stage follows by the same expectations.
    """
    df = int(n.sum()) - n.size
    if n.size == 0:
        return Scatter(0.0, 0, 0.0, 1.0)
    in_mean = float(np.mean(np.bincount(brew, 1 / n) / per_brew**2))
    within = float(np.sum((1 - 1 / per_brew[brew]) / n))
    more_samples = n.size - per_brew.size
    held = within / more_samples if more_samples else 0.0
    single = (1 - in_mean) - _left_by_samples(per_brew) * held
    return Scatter(float(squares.sum()) / df if df else 0.0, df, max(single, 0.0), in_mean)


def _of_samples(n_samples: int, per_brew: Floats, apart: Floats) -> Scatter:
    """Scatter of the differences of samples about their brew's difference, pooled."""
    df = n_samples - per_brew.size
    left = _left_by_samples(per_brew)
    return Scatter(float(np.sum(apart**2)) / df if df else 0.0, df, left, 1 - left)


def _left_by_samples(per_brew: Floats) -> float:
    """What the mean of a brew's samples leaves out of the variance of a single sample."""
    return float(1 - np.mean(1 / per_brew)) if per_brew.size else 0.0
