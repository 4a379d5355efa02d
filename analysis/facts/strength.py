"""Readings averaged per brew: what each reading says, their mean and spread, and the uncertainty of that mean."""

from __future__ import annotations

import polars as pl

from analysis.facts.correction_notes import correction_notes
from analysis.repeatability import with_scatter, within_brews
from analysis.uncertainty import instrument_variance
from schemas.lab import LabSettings

UNNAMED = "an unnamed instrument"
CORRECTION = ("offset", "slope", "correction_u", "correction_gain_u", "correction_centre")
FEW_DF = 2
"""A scatter with no more degrees of freedom than this (readings beyond the first of their kind) is said to be so."""
NO_DEFAULT = "no instrument_id and no lab default for tds_pct: no uncertainty of strength"


def read_strength(readings: pl.DataFrame, settings: LabSettings) -> pl.DataFrame:
    """Readings with `strength_pct`, the dissolved solids each one says, and `unit_pct`, % per unit of the instrument.

    A declared correction is applied in the instrument's own unit; Brix is then converted by the lab's factor.
    `strength_pct` is null for a reading on a milk drink and for Brix without a factor. What the correction itself
    leaves open stands in `correction_u` (null where none is declared), `correction_gain_u` and `correction_centre`:
    its standard uncertainty at a strength x is `hypot(correction_u, correction_gain_u (x - correction_centre))`.
    """
    is_brix = pl.col("reading_scale").eq("brix").fill_null(False)
    on_milk = pl.col("served_as").eq("milk").fill_null(False)
    corrected = (pl.col("tds_pct") - pl.col("offset").fill_null(0.0)) / pl.col("slope").fill_null(1.0)
    unit_pct = pl.when(is_brix).then(pl.lit(settings.brix_factor, pl.Float64)).otherwise(1.0)
    return (
        readings.join(_corrections(settings), on="instrument_id", how="left", maintain_order="left")
        .with_columns(unit_pct=unit_pct, strength_pct=pl.when(~on_milk).then(corrected * unit_pct))
        .drop("offset", "slope")
    )


def _corrections(settings: LabSettings) -> pl.DataFrame:
    """Declared corrections, one row an instrument, in its own unit."""
    return pl.DataFrame(
        [
            (c.instrument_id, c.offset, c.slope, c.standard_uncertainty, c.slope_u / c.slope, c.centre)
            for c in settings.corrections
        ],
        schema={"instrument_id": pl.String()} | dict.fromkeys(CORRECTION, pl.Float64()),
        orient="row",
    )


def strength_per_brew(readings: pl.DataFrame, settings: LabSettings) -> pl.DataFrame:
    """One row per brew with readings: brew, n_readings, tds_pct, tds_sd_pct, tds_u_pct, strength_note, correction_note.

    `readings` come from `read_strength`, with brew, method and is_void of their brew. `tds_pct` is the mean of all
    readings that say a strength, each with the same weight, however many a sample or an instrument has; `n_readings`
    counts every reading handed in, those on milk or in unconverted Brix too.
    """
    means = readings.group_by("brew", maintain_order=True).agg(
        n_readings=pl.len().cast(pl.Int64),
        tds_pct=pl.col("strength_pct").mean(),
        tds_sd_pct=pl.col("strength_pct").std(ddof=1),
    )
    return means.join(_uncertainty(readings, settings), on="brew", how="left").join(
        correction_notes(readings, settings), on="brew", how="left"
    )


def _uncertainty(readings: pl.DataFrame, settings: LabSettings) -> pl.DataFrame:
    """brew, tds_u_pct and strength_note: `u^2 = sum over instruments of w^2 (s^2/n + bias^2 + resolution^2/12)`.

    w is the share of this brew's readings taken on the instrument. A correction's own uncertainty replaces the
    instrument's; u is null where an instrument's is unknown.
    """
    groups = reading_groups(readings, settings)
    scatter_variance = (pl.col("scatter_pct") ** 2 / pl.col("n_repeats")).fill_null(0.0)
    of_instrument = instrument_variance(
        standard_uncertainty=pl.col("bias_u") * pl.col("unit_pct"),
        resolution=pl.col("resolution").fill_null(0.0) * pl.col("unit_pct"),
    )
    groups = groups.with_columns(variance=pl.col("share") ** 2 * (scatter_variance + of_instrument))
    variances = groups.group_by("brew", maintain_order=True).agg(
        pl.col("variance").sum(), unknown=pl.col("variance").is_null().any()
    )
    return variances.join(_notes(groups), on="brew", how="left").select(
        "brew", "strength_note", tds_u_pct=pl.when(~pl.col("unknown")).then(pl.col("variance").sqrt())
    )


def reading_groups(readings: pl.DataFrame, settings: LabSettings) -> pl.DataFrame:
    """One row per brew and instrument that read a strength: what `with_scatter` gives, `share` and the instrument's.

    `share` is the part of the brew's readings taken on it; `bias_u` and `resolution` are in the instrument's own unit,
    of which one is `unit_pct` percent. All readings of a group share the errors of a correction, which is linear: its
    part in `bias_u` is that at their mean.
    """
    used = readings.filter(pl.col("strength_pct").is_not_null())
    bias = (
        _bias(used, settings)
        .group_by("brew", "instrument_id", maintain_order=True)
        .agg(
            pl.first("bias_u", "resolution", "correction_u", "correction_gain_u", "correction_centre"),
            pl.col("unit_pct").mean(),
            mean=(pl.col("strength_pct") / pl.col("unit_pct")).mean(),
        )
        .with_columns(bias_u=_at_mean())
        .drop("mean")
    )
    return (
        with_scatter(within_brews(used))
        .join(bias, on=["brew", "instrument_id"], how="left", nulls_equal=True, maintain_order="left")
        .with_columns(share=pl.col("n") / pl.col("n").sum().over("brew"))
    )


def _at_mean() -> pl.Expr:
    """`bias_u`, where it is a correction's with what its slope leaves open at the mean of the readings."""
    of_slope = pl.col("correction_gain_u") * (pl.col("mean") - pl.col("correction_centre"))
    return (
        pl.when(pl.col("correction_gain_u") > 0).then((pl.col("bias_u") ** 2 + of_slope**2).sqrt()).otherwise("bias_u")
    )


def _bias(used: pl.DataFrame, settings: LabSettings) -> pl.DataFrame:
    """`bias_u` in the instrument's unit: the correction's, else the instrument's, else the lab's for a nameless one."""
    default = pl.lit(settings.default_u.get("tds_pct"), pl.Float64)
    nameless = pl.col("instrument_id").is_null()
    named_u = pl.coalesce("correction_u", "standard_uncertainty")
    return used.with_columns(
        bias_u=pl.when(nameless).then(default).otherwise(named_u),
        resolution=pl.when(nameless).then(0.0).otherwise("resolution"),
    )


def _notes(groups: pl.DataFrame) -> pl.DataFrame:
    """Brews and what the uncertainty of their strength leaves out, in words; only brews with something to say."""
    nameless = pl.col("instrument_id").is_null()
    no_bias, no_repeats = pl.col("bias_u").is_null(), pl.col("scatter_pct").is_null()
    no_resolution, few_repeats = pl.col("resolution").is_null(), pl.col("repeats_df").is_between(1, FEW_DF)
    instrument, df = pl.col("instrument_id").fill_null(UNNAMED), pl.col("repeats_df")
    repeats = pl.when(df == 1).then(pl.lit("1 repeat")).otherwise(pl.format("{} repeats", df))
    parts = (
        pl.when(no_bias & nameless).then(pl.lit(NO_DEFAULT)),
        pl.when(no_bias & ~nameless).then(
            pl.format("{} has no standard_uncertainty: no uncertainty of strength", "instrument_id")
        ),
        pl.when(no_repeats).then(pl.format("no repeated readings on {}: scatter not counted", instrument)),
        pl.when(~no_repeats & few_repeats).then(
            pl.format("scatter of readings on {} judged from {} only", instrument, repeats)
        ),
        pl.when(no_resolution).then(pl.format("{} has no resolution: counted as 0", "instrument_id")),
    )
    return (
        groups.filter(no_bias | no_repeats | few_repeats | no_resolution)
        .with_columns(note=pl.concat_str(parts, separator="; ", ignore_nulls=True))
        .group_by("brew", maintain_order=True)
        .agg(strength_note=pl.col("note").str.join("; "))
    )
