"""Dial settings as steps finer than a reference, within one coffee, grinder and method."""

from __future__ import annotations

import polars as pl

from analysis.dial import read_setting
from schemas.lab import LabSettings

PLACE = ("coffee_id", "grinder_id", "method")
"""Within these a dial orders settings, and one zero applies."""


def with_grind(brews: pl.DataFrame, settings: LabSettings) -> pl.DataFrame:
    """Brews with grind_dial, grind_zero, grind_reference_note, grind_steps_finer and grind_um_finer.

    Needs is_void and the grinder's finer_is, step_um and dial. Zero is the declared reference where it can be read,
    else the median over non-void brews; all of it is null where grinder, dial or direction is unknown.
    """
    brews = _with_dial(brews)
    zeros = _medians(brews).join(_declared(brews, settings), on=PLACE, how="full", coalesce=True)
    declared = pl.col("declared_zero").is_not_null()
    brews = brews.join(zeros, on=PLACE, how="left", maintain_order="left").with_columns(
        grind_zero=pl.coalesce("declared_zero", "median_dial"),
        grind_reference_note=pl.when(declared)
        .then(pl.format("declared: {}", "declared_setting"))
        .when(pl.col("median_dial").is_not_null())
        .then(pl.format("median of {} {}", "n_dials", _brews(pl.col("n_dials")))),
    )
    above_zero = pl.col("grind_dial") - pl.col("grind_zero")
    steps = (
        pl.when(pl.col("finer_is") == "higher")
        .then(above_zero)
        .when(pl.col("finer_is") == "lower")
        .then(pl.col("grind_zero") - pl.col("grind_dial"))
    )
    return brews.with_columns(grind_steps_finer=steps).with_columns(
        grind_um_finer=pl.col("grind_steps_finer") * pl.col("step_um")
    )


def _with_dial(brews: pl.DataFrame) -> pl.DataFrame:
    """Brews with grind_dial; each distinct setting on each distinct dial is read once."""
    kinds = brews.select("grind_setting", "dial").unique()
    dials = pl.Series("grind_dial", [read_setting(*kind) for kind in kinds.iter_rows()], pl.Float64)
    return brews.join(
        kinds.with_columns(dials), on=["grind_setting", "dial"], how="left", nulls_equal=True, maintain_order="left"
    )


def _brews(count: pl.Expr) -> pl.Expr:
    return pl.when(count == 1).then(pl.lit("brew")).otherwise(pl.lit("brews"))


def _medians(brews: pl.DataFrame) -> pl.DataFrame:
    return (
        brews.filter(~pl.col("is_void") & pl.col("grind_dial").is_not_null() & pl.col("grinder_id").is_not_null())
        .group_by(PLACE)
        .agg(median_dial=pl.col("grind_dial").median(), n_dials=pl.len())
    )


def _declared(brews: pl.DataFrame, settings: LabSettings) -> pl.DataFrame:
    """Declared references as numbers on their grinder's dial; the last one of a place counts."""
    dials = dict(brews.select("grinder_id", "dial").unique().iter_rows())
    read = {
        (ref.coffee_id, ref.grinder_id, ref.method): (
            read_setting(ref.grind_setting, dials.get(ref.grinder_id)),
            ref.grind_setting,
        )
        for ref in settings.grind_references
    }
    return pl.DataFrame(
        [(*place, zero, setting) for place, (zero, setting) in read.items() if zero is not None],
        schema={**dict.fromkeys(PLACE, pl.String), "declared_zero": pl.Float64, "declared_setting": pl.String},
        orient="row",
    )
