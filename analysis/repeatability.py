"""How far repeated readings scatter: standard deviations pooled within brews, by instrument and method.

Readings without an instrument count as one instrument (`instrument_id` null). Void brews stay out of every pool.
"""

from __future__ import annotations

import math

import polars as pl

GROUP = ("brew", "instrument_id")
POOL = ("instrument_id", "method")


def within_brews(readings: pl.DataFrame) -> pl.DataFrame:
    """One row per brew and instrument: how many readings and samples, and their squared deviations.

    `readings` has brew, instrument_id, method, is_void, sample_no and strength_pct (never null). `ss` sums the squared
    deviations of the readings from their brew's mean, `ss_samples` those of the sample means from their own mean
    (0 with one sample); both in %^2.
    """
    groups = readings.group_by(GROUP, maintain_order=True).agg(
        pl.first("method", "is_void"),
        n=pl.len().cast(pl.Int64),
        n_samples=pl.col("sample_no").n_unique().cast(pl.Int64),
        ss=_squares("strength_pct"),
    )
    several = groups.filter(pl.col("n_samples") > 1).select(GROUP)
    means = (
        readings.join(several, on=GROUP, how="semi", nulls_equal=True)
        .group_by(*GROUP, "sample_no", maintain_order=True)
        .agg(pl.col("strength_pct").mean())
        .group_by(GROUP, maintain_order=True)
        .agg(ss_samples=_squares("strength_pct"))
    )
    return groups.join(means, on=GROUP, how="left", nulls_equal=True, maintain_order="left").with_columns(
        pl.col("ss_samples").fill_null(0.0)
    )


def _squares(column: str) -> pl.Expr:
    return (pl.col(column).var(ddof=1) * (pl.len() - 1)).fill_null(0.0)


def pooled(groups: pl.DataFrame, by: tuple[str, ...]) -> pl.DataFrame:
    """Pools of `within_brews` rows: sums and degrees of freedom of readings and of sample means.

    Sums are exact (`math.fsum`), so that the order of rows cannot move a last digit.
    """
    sums = (
        groups.filter(~pl.col("is_void"))
        .group_by(by, maintain_order=True)
        .agg(
            pl.col("ss", "ss_samples"),
            df=(pl.col("n") - 1).sum(),
            df_samples=(pl.col("n_samples") - 1).sum(),
        )
    )
    exact = [pl.Series(name, [math.fsum(part) for part in sums[name]], pl.Float64) for name in ("ss", "ss_samples")]
    return sums.with_columns(exact)


def with_scatter(groups: pl.DataFrame) -> pl.DataFrame:
    """Rows of `within_brews` with `scatter_pct` (the s of one repeat), `scatter_df` and `n_repeats` (this brew's).

    Where brews of an instrument and method have two or more samples, s is the pooled sd of sample means and a repeat
    is a sample, so that more readings of one drop do not shrink it; else s is the pooled sd of readings. Without any
    repeat there, the instrument's other methods are pooled in; without any at all, s is null.
    """
    by_method = _scatter(pooled(groups, POOL))
    by_instrument = _scatter(pooled(groups, POOL[:1])).rename(
        {"s": "s_any", "s_df": "s_df_any", "of_samples": "of_samples_any"}
    )
    joined = groups.join(by_method, on=POOL, how="left", nulls_equal=True, maintain_order="left").join(
        by_instrument, on=POOL[:1], how="left", nulls_equal=True, maintain_order="left"
    )
    own = pl.col("s").is_not_null()
    of_samples = pl.when(own).then("of_samples").otherwise("of_samples_any")
    return joined.with_columns(
        scatter_pct=pl.coalesce("s", "s_any"),
        scatter_df=pl.when(own).then("s_df").otherwise("s_df_any"),
        n_repeats=pl.when(of_samples).then("n_samples").otherwise("n"),
    ).drop("s", "s_df", "of_samples", "s_any", "s_df_any", "of_samples_any")


def _scatter(pools: pl.DataFrame) -> pl.DataFrame:
    """Each pool's s (null without repeats), its degrees of freedom, and whether it is one of sample means."""
    of_samples = pl.col("df_samples") > 0
    variance = (
        pl.when(of_samples)
        .then(pl.col("ss_samples") / pl.col("df_samples"))
        .when(pl.col("df") > 0)
        .then(pl.col("ss") / pl.col("df"))
    )
    keys = [name for name in POOL if name in pools.columns]
    s_df = pl.when(of_samples).then("df_samples").otherwise("df")
    return pools.select(*keys, s=variance.sqrt(), s_df=s_df, of_samples=of_samples)


def scatter_of_others(groups: pl.DataFrame) -> pl.DataFrame:
    """Rows of `within_brews` with `others_df` and `others_scatter_pct`: readings of the pool's other brews."""
    pools = pooled(groups, POOL).select(*POOL, pool_ss="ss", pool_df="df")
    own = ~pl.col("is_void")
    others_df = pl.col("pool_df").fill_null(0) - pl.when(own).then(pl.col("n") - 1).otherwise(0)
    others_ss = (pl.col("pool_ss") - pl.when(own).then("ss").otherwise(0.0)).clip(lower_bound=0.0)
    return (
        groups.join(pools, on=POOL, how="left", nulls_equal=True, maintain_order="left")
        .with_columns(
            others_df=others_df, others_scatter_pct=pl.when(others_df > 0).then((others_ss / others_df).sqrt())
        )
        .drop("pool_ss", "pool_df")
    )
