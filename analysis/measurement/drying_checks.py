"""Strengths by drying as something to compare with: reference checks of refractometers, readings of an oven."""

from __future__ import annotations

import polars as pl

from analysis.measurement.drying import Drying
from schemas.dtypes import TIME

CHECKS = {
    "instrument_id": pl.String(),
    "checked_at": TIME,
    "check_kind": pl.String(),
    "reference_value": pl.Float64(),
    "reference_u": pl.Float64(),
    "reference_shared_u": pl.Float64(),
    "reference_df": pl.Float64(),
    "observed_value": pl.Float64(),
    "n_readings": pl.Int64(),
    "n_dishes": pl.Int64(),
    "brew_id": pl.String(),
    "oven": pl.String(),
}
"""Reference checks, in % dissolved solids.

`reference_shared_u` is the part of `reference_u` that is the same in every check against this oven (volatile loss, the
weighing scale, the blank), so that a fit over checks does not shrink it. Both are null where the weighing scale says
nothing of its uncertainty.
"""
DRIED = {
    "brew_id": pl.String(),
    "instrument_id": pl.String(),
    "sample_no": pl.Int64(),
    "replicate": pl.Int64(),
    "tds_pct": pl.Float64(),
}


def reference_checks(drying: Drying, readings: pl.DataFrame, brews: pl.DataFrame) -> pl.DataFrame:
    """One row of `CHECKS` per dried brew and instrument that read it, by instrument and time.

    `readings` has the contract's columns, `brews` brew_id and brewed_at. `observed_value` is the mean as read, before
    any correction: a check that had been corrected could not find one. Brix and readings on milk stay out, as they say
    no strength without help. The check's time is that of the last reading, else of the brew, else of the drying.
    """
    dried = pl.DataFrame(
        [
            (one.brew_id, one.oven, one.tds_pct, one.u_pct, one.shared_u_pct, one.df, len(one.dishes), one.dried_at)
            for one in drying.brews
        ],
        schema={
            "brew_id": pl.String,
            "oven": pl.String,
            "reference_value": pl.Float64,
            "reference_u": pl.Float64,
            "reference_shared_u": pl.Float64,
            "reference_df": pl.Float64,
            "n_dishes": pl.Int64,
            "dried_at": TIME,
        },
        orient="row",
    )
    says_strength = ~pl.col("reading_scale").eq_missing("brix") & ~pl.col("served_as").eq_missing("milk")
    means = (
        readings.filter(says_strength & pl.col("instrument_id").is_not_null() & pl.col("tds_pct").is_not_null())
        .group_by("brew_id", "instrument_id")
        .agg(
            observed_value=pl.col("tds_pct").mean(), n_readings=pl.len().cast(pl.Int64), read_at=pl.col("read_at").max()
        )
    )
    return (
        means.join(dried, on="brew_id", how="inner")
        .join(brews.select("brew_id", "brewed_at"), on="brew_id", how="left")
        .with_columns(checked_at=pl.coalesce("read_at", "brewed_at", "dried_at"), check_kind=pl.lit("reference"))
        .select(pl.col(name).cast(kind) for name, kind in CHECKS.items())
        .sort("instrument_id", "checked_at", "brew_id", "oven", nulls_last=True)
    )


def dried_dishes(drying: Drying) -> pl.DataFrame:
    """Strength of every dish that counts, columns of `DRIED`: what `pairing.reference_as_readings` takes."""
    return pl.DataFrame(
        [
            (one.brew_id, one.oven, strength.dish.sample_no, strength.dish.replicate, strength.tds_pct)
            for one in drying.brews
            for strength in one.dishes
        ],
        schema=DRIED,
        orient="row",
    )
