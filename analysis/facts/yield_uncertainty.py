"""The standard uncertainty of each brew's yield, from its strength and its masses."""

from __future__ import annotations

import polars as pl

from analysis.uncertainty import (
    Sensitivities,
    immersion_sensitivities,
    percolation_sensitivities,
    propagated_variance,
    weighing_variance,
)
from schemas.lab import LabSettings

NAMELESS = pl.col("scale_id").is_null()
READ_AFTER = pl.col("read_after") == 1


def with_yield_uncertainty(brews: pl.DataFrame, settings: LabSettings) -> pl.DataFrame:
    """Brews with extraction_yield_u_pct and u_note.

    Needs the columns of `with_extraction`, tds_u_pct, strength_note, scale_standard_uncertainty and scale_resolution.
    u is null where there is no yield, or where the uncertainty of the strength or of the named scale is unknown.
    """
    variance = (
        pl.when(pl.col("balance_used") == "percolation")
        .then(propagated_variance(percolation_slopes(), input_u(settings)))
        .otherwise(propagated_variance(immersion_slopes(), input_u(settings)))
    )
    has_yield = pl.col("extraction_yield_pct").is_not_null()
    notes = pl.concat_str(
        "strength_note",
        *(pl.when(has_yield).then(note) for note in _mass_notes(settings)),
        separator="; ",
        ignore_nulls=True,
    )
    return brews.with_columns(
        extraction_yield_u_pct=pl.when(has_yield).then(variance.sqrt()),
        u_note=pl.when(pl.col("tds_pct").is_not_null() & (notes != "")).then(notes),
    )


def percolation_slopes() -> Sensitivities[pl.Expr]:
    """Slopes of the yield by the percolation balance, over the columns of `with_extraction`."""
    return percolation_sensitivities(
        tds_pct=pl.col("tds_pct"),
        dose_g=pl.col("dose_g"),
        beverage_g=pl.col("beverage_g"),
        bypass_g=pl.col("bypass_0_g"),
        bypass_included=pl.col("included"),
        read_after_bypass=pl.col("read_after"),
    )


def immersion_slopes() -> Sensitivities[pl.Expr]:
    """Slopes of the yield by the immersion balance, over the columns of `with_extraction`.

    The beverage counts only where the reading came after bypass; else 1 g stands in, with a slope of zero.
    """
    return immersion_sensitivities(
        tds_pct=pl.col("tds_pct"),
        dose_g=pl.col("dose_g"),
        water_g=pl.col("water_g"),
        evaporated_g=pl.col("evaporated_0_g"),
        beverage_g=pl.when(READ_AFTER).then("beverage_g").otherwise(1.0),
        bypass_g=pl.col("bypass_0_g"),
        bypass_included=pl.when(READ_AFTER).then("included").otherwise(0.0),
        read_after_bypass=pl.col("read_after"),
    )


def input_u(settings: LabSettings) -> Sensitivities[pl.Expr]:
    """Standard uncertainty of every input: the scale's, else the lab's default, else 0; an empty mass is exact."""

    def weighed(quantity: str) -> pl.Expr:
        of_scale = weighing_variance(
            standard_uncertainty=pl.col("scale_standard_uncertainty"),
            resolution=pl.col("scale_resolution").fill_null(0.0),
        ).sqrt()
        return pl.when(NAMELESS).then(settings.default_u.get(quantity, 0.0)).otherwise(of_scale)

    def optional(column: str) -> pl.Expr:
        return pl.when(pl.col(column).is_null()).then(0.0).otherwise(weighed("water_g"))

    return Sensitivities(
        tds=pl.col("tds_u_pct"),
        dose=weighed("dose_g"),
        beverage=weighed("beverage_g"),
        water=weighed("water_g"),
        evaporated=optional("evaporated_g"),
        bypass=optional("bypass_g"),
    )


def _mass_notes(settings: LabSettings) -> list[pl.Expr]:
    """What the masses leave out, in words; each null where it does not apply."""
    percolation = pl.col("balance_used") == "percolation"
    uses_water = ~percolation | pl.col("bypass_g").is_not_null()
    uses = {"dose_g": pl.lit(True), "beverage_g": percolation | READ_AFTER, "water_g": uses_water}
    exact = pl.concat_str(
        *(pl.when(used).then(pl.lit(name)) for name, used in uses.items() if name not in settings.default_u),
        pl.lit(None, pl.String),
        separator=", ",
        ignore_nulls=True,
    )
    no_u = pl.col("scale_standard_uncertainty").is_null()
    return [
        pl.when(NAMELESS & (exact != "")).then(
            pl.format("no scale_id and no lab default for {}: counted as exact", exact)
        ),
        pl.when(~NAMELESS & no_u).then(
            pl.format("{} has no standard_uncertainty: no uncertainty of yield", "scale_id")
        ),
        pl.when(~NAMELESS & pl.col("scale_resolution").is_null()).then(
            pl.format("{} has no resolution: counted as 0", "scale_id")
        ),
    ]
