"""How far repeated readings scatter: standard deviations pooled within brews, by instrument and method.

A repeat is the same reader again: readings are pooled within brew, instrument, sample and reader, sample means within
brew, instrument and reader. What readers differ by is reproducibility, which a gauge study tells. Readings without an
instrument or a reader count as of one (`instrument_id` or `read_by` null). Void brews stay out of every pool. Readings
flagged as far apart stay in: leaving them out would make the scatter look smaller than the lab's is.
"""

from __future__ import annotations

import math

import polars as pl

from analysis.number import Number

GROUP = ("brew", "instrument_id")
POOL = ("instrument_id", "method")
SUMS = ("ss", "ss_samples", "ss_all", "one_over_m")
SQUARES = ("of_readings", "of_samples", "per_mean", "df", "df_samples")


def within_brews(readings: pl.DataFrame) -> pl.DataFrame:
    """One row per brew and instrument: how many readings and samples, and their squared deviations in %^2.

    `readings` has brew, instrument_id, method, is_void, sample_no, read_by and strength_pct (never null). `ss` sums the
    squared deviations of readings from the mean of their sample and reader, with `df` degrees of freedom; `ss_samples`
    those of a reader's sample means from their own mean, with `df_samples` (both 0 with one sample); `ss_all` those of
    all readings of the brew from their mean, whoever read and whichever sample, with n - 1. `one_over_m` is the mean of
    1 / (readings of a sample) times the degrees of freedom of a reader's samples, summed over readers.
    `sample_weight` is the sum of squared shares of the readings that each sample has: 1 / n_samples where alike.
    """
    drops = readings.group_by(*GROUP, "read_by", "sample_no", maintain_order=True).agg(
        n=_count(), mean=pl.col("strength_pct").mean(), ss=_squares("strength_pct")
    )
    readers = drops.group_by(*GROUP, "read_by", maintain_order=True).agg(
        df=(pl.col("n") - 1).sum(),
        ss=pl.col("ss").sum(),
        df_samples=_count() - 1,
        ss_samples=_squares("mean"),
        one_over_m=(_count() - 1) * (1 / pl.col("n")).mean(),
    )
    pooled_in = readers.group_by(GROUP, maintain_order=True).agg(
        pl.col("df", "ss", "df_samples", "ss_samples", "one_over_m").sum()
    )
    samples = drops.group_by(*GROUP, "sample_no", maintain_order=True).agg(pl.col("n").sum())
    weights = samples.group_by(GROUP, maintain_order=True).agg(
        sample_weight=(pl.col("n") ** 2).sum() / pl.col("n").sum() ** 2
    )
    groups = readings.group_by(GROUP, maintain_order=True).agg(
        pl.first("method", "is_void"),
        n=_count(),
        n_samples=pl.col("sample_no").n_unique().cast(pl.Int64),
        ss_all=_squares("strength_pct"),
    )
    for part in (pooled_in, weights):
        groups = groups.join(part, on=GROUP, how="left", nulls_equal=True, maintain_order="left")
    return groups


def _count() -> pl.Expr:
    return pl.len().cast(pl.Int64)


def _squares(column: str) -> pl.Expr:
    return (pl.col(column).var(ddof=1) * (pl.len() - 1)).fill_null(0.0)


def pooled(groups: pl.DataFrame, by: tuple[str, ...]) -> pl.DataFrame:
    """Pools of `within_brews` rows: sums of squares and degrees of freedom.

    Sums are exact (`math.fsum`), so that the order of rows cannot move a last digit.
    """
    sums = (
        groups.filter(~pl.col("is_void"))
        .group_by(by, maintain_order=True)
        .agg(pl.col(SUMS), pl.col("df", "df_samples").sum(), df_all=(pl.col("n") - 1).sum())
    )
    exact = [pl.Series(name, [math.fsum(part) for part in sums[name]], pl.Float64) for name in SUMS]
    return sums.with_columns(exact)


def with_scatter(groups: pl.DataFrame) -> pl.DataFrame:
    """Rows of `within_brews` with `scatter_pct` (the s of one repeat), `scatter_df` and `n_repeats` (this brew's).

    The variance of this brew's mean is `scatter_pct**2 / n_repeats`, with `scatter_df` effective degrees of freedom.
    Where one reader read two or more samples of a brew of that instrument and method, and samples differ by more than
    their readings make them, a repeat is a sample, and its s holds what differs between samples and the scatter of
    readings over as many as this brew has of each; else s is the pooled sd of readings. Without any repeat there, the
    instrument's other methods are pooled in; without any at all, s is null. `repeats_df` counts the repeats that s
    mostly rests on, `scatter_pool` is the same for groups whose s come from the same repeats.
    """
    by_method = mean_squares(pooled(groups, POOL))
    by_instrument = mean_squares(pooled(groups, POOL[:1])).rename({name: f"{name}_any" for name in SQUARES})
    joined = (
        groups.rename({"df": "own_df", "df_samples": "own_df_samples"})
        .join(by_method, on=POOL, how="left", nulls_equal=True, maintain_order="left")
        .join(by_instrument, on=POOL[:1], how="left", nulls_equal=True, maintain_order="left")
    )
    own = pl.col("df") + pl.col("df_samples") > 0
    joined = joined.with_columns(pl.when(own).then(name).otherwise(f"{name}_any").alias(name) for name in SQUARES)
    within, of_samples = pl.col("of_readings").fill_null(0.0), pl.col("of_samples").fill_null(0.0)
    between = between_samples(of_samples=of_samples, of_readings=within, per_mean=pl.col("per_mean")).clip(0.0)
    samples_tell = (pl.col("df_samples") > 0) & ((between > 0) | (pl.col("df") == 0))
    weight = pl.when(samples_tell).then("sample_weight").otherwise(0.0)
    n_repeats = pl.when(samples_tell).then("n_samples").otherwise("n")
    variance = mean_variance(
        between=pl.when(samples_tell).then(between).otherwise(0.0), within=within, sample_weight=weight, n=pl.col("n")
    )
    df = mean_df(
        variance=variance,
        of_samples=of_samples,
        of_readings=within,
        per_mean=pl.col("per_mean"),
        sample_weight=weight,
        n=pl.col("n"),
        df_samples=pl.col("df_samples").cast(pl.Float64).replace(0.0, math.inf),
        df=pl.col("df").cast(pl.Float64).replace(0.0, math.inf),
    )
    repeats_df = pl.when(samples_tell).then("df_samples").otherwise("df")
    known = repeats_df > 0
    return joined.with_columns(
        scatter_pct=pl.when(known).then((variance * n_repeats).sqrt()),
        scatter_df=pl.when(known).then(pl.when(variance > 0).then(df).otherwise(repeats_df)),
        n_repeats=n_repeats,
        repeats_df=pl.when(known).then(repeats_df),
        scatter_pool=pl.concat_str([pl.col(name).cast(pl.String).fill_null("none") for name in SQUARES], separator=" "),
    ).drop(*SQUARES, *(f"{name}_any" for name in SQUARES))


def mean_squares(pools: pl.DataFrame) -> pl.DataFrame:
    """Each pool's `SQUARES`: variances of readings and of sample means (null without any), 1 / m, degrees of freedom.

    `per_mean` is what a sample's mean holds of the variance of readings, averaged over the pool (0 without samples).
    """
    keys = [name for name in POOL if name in pools.columns]
    df, df_samples = pl.col("df"), pl.col("df_samples")
    return pools.select(
        *keys,
        of_readings=pl.when(df > 0).then(pl.col("ss") / df),
        of_samples=pl.when(df_samples > 0).then(pl.col("ss_samples") / df_samples),
        per_mean=pl.when(df_samples > 0).then(pl.col("one_over_m") / df_samples).otherwise(0.0),
        df=df,
        df_samples=df_samples,
    )


def between_samples(*, of_samples: Number, of_readings: Number, per_mean: Number) -> Number:
    """Variance of samples beyond their readings: that of sample means less what the readings make of it.

    The mean squares of a nested layout, solved for the upper component: Davies and Goldsmith (1972), chapter 6.
    """
    return of_samples - of_readings * per_mean


def mean_variance(*, between: Number, within: Number, sample_weight: Number, n: Number) -> Number:
    """Variance of the mean of a brew's n readings: what differs between its samples, and readings about them."""
    return between * sample_weight + within / n


def mean_df(
    *,
    variance: Number,
    of_samples: Number,
    of_readings: Number,
    per_mean: Number,
    sample_weight: Number,
    n: Number,
    df_samples: Number,
    df: Number,
) -> Number:
    """Effective degrees of freedom of `mean_variance`, a sum of two independent mean squares (Satterthwaite, 1946)."""
    samples, readings = sample_weight * of_samples, of_readings / n - sample_weight * per_mean * of_readings
    return variance * variance / (samples * samples / df_samples + readings * readings / df)


def scatter_of_others(groups: pl.DataFrame) -> pl.DataFrame:
    """Rows of `within_brews` with `others_df` and `others_scatter_pct`: all readings of the pool's other brews.

    Samples and readers count in this scatter, as it is held against two readings of any sample by any reader.
    """
    pools = pooled(groups, POOL).select(*POOL, pool_ss="ss_all", pool_df="df_all")
    own = ~pl.col("is_void")
    others_df = pl.col("pool_df").fill_null(0) - pl.when(own).then(pl.col("n") - 1).otherwise(0)
    others_ss = (pl.col("pool_ss") - pl.when(own).then("ss_all").otherwise(0.0)).clip(lower_bound=0.0)
    return (
        groups.join(pools, on=POOL, how="left", nulls_equal=True, maintain_order="left")
        .with_columns(
            others_df=others_df, others_scatter_pct=pl.when(others_df > 0).then((others_ss / others_df).sqrt())
        )
        .drop("pool_ss", "pool_df")
    )
