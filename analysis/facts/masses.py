"""From masses and strength to dissolved matter, yield, ratios and retained water, by the balance that applies."""

from __future__ import annotations

import polars as pl

from analysis import extraction
from schemas.methods import BALANCE_OF_METHOD

PHYSICAL = (
    "cup_tds_pct",
    "dissolved_g",
    "extraction_yield_pct",
    "extraction_yield_dry_pct",
    "water_ratio",
    "beverage_ratio",
    "total_water_ratio",
    "retained_g",
    "retained_ratio",
)
"""The columns that masses and strength give."""

HAS_BYPASS = pl.col("bypass_g").fill_null(0.0) > 0
BYPASS_UNCLEAR = HAS_BYPASS & (pl.col("bypass_included").is_null() | pl.col("bypass_before_reading").is_null())
EVAPORATION_MISSING = pl.col("method").eq("boiled") & pl.col("evaporated_g").is_null()


def balance_used() -> pl.Expr:
    """The mass balance that applies: as the brew says, else by its method; null where neither says."""
    return pl.coalesce("mass_balance", pl.col("method").replace_strict(BALANCE_OF_METHOD, default=None))


def with_bypass(brews: pl.DataFrame) -> pl.DataFrame:
    """Brews with what the formulas need of bypass and evaporation, an empty mass as 0.

    Adds balance_used, bypass_0_g, evaporated_0_g, included and read_after (1 or 0; null where bypass was added and the
    answer is empty) and before_bypass_g (M; null where it is unknown or nothing would be left of the beverage).
    """
    brews = brews.with_columns(
        balance_used=balance_used(),
        bypass_0_g=pl.col("bypass_g").fill_null(0.0),
        evaporated_0_g=pl.col("evaporated_g").fill_null(0.0),
        included=pl.when(HAS_BYPASS).then(pl.col("bypass_included").cast(pl.Float64)).otherwise(0.0),
        read_after=pl.when(HAS_BYPASS).then(pl.col("bypass_before_reading").cast(pl.Float64)).otherwise(0.0),
    )
    before_bypass_g = extraction.beverage_before_bypass_g(
        beverage_g=pl.col("beverage_g"), bypass_g=pl.col("bypass_0_g"), bypass_included=pl.col("included")
    )
    return brews.with_columns(before_bypass_g=pl.when(~HAS_BYPASS | (before_bypass_g > 0)).then(before_bypass_g))


def with_extraction(brews: pl.DataFrame) -> pl.DataFrame:
    """Brews with the columns of `PHYSICAL` and those of `with_bypass`, and undiluted_pct (t0, null from 100 on).

    Needs the brews' own columns, `tds_pct` and `moisture_pct`. A brew whose bypass is unclear, or boiled without
    `evaporated_g`, gets no strength: `tds_pct` and all that follows from it are null.
    """
    unknown = BYPASS_UNCLEAR | EVAPORATION_MISSING
    brews = with_bypass(brews.with_columns(tds_pct=pl.when(~unknown).then("tds_pct")))
    before_bypass_g, bypass_g, dose_g = pl.col("before_bypass_g"), pl.col("bypass_0_g"), pl.col("dose_g")
    undiluted = extraction.undiluted_tds_pct(tds_pct=pl.col("tds_pct"), beverage_g=before_bypass_g, bypass_g=bypass_g)
    undiluted = pl.when(pl.col("read_after") == 0).then("tds_pct").otherwise(undiluted)
    brews = brews.with_columns(undiluted_pct=pl.when(undiluted < 100).then(undiluted))
    brews = brews.with_columns(
        dissolved_g=_dissolved_g(),
        cup_tds_pct=_cup_tds_pct(),
        water_ratio=extraction.mass_ratio(mass_g=pl.col("water_g"), dose_g=dose_g),
        beverage_ratio=extraction.mass_ratio(mass_g=before_bypass_g, dose_g=dose_g),
        total_water_ratio=extraction.mass_ratio(mass_g=pl.col("water_g") + bypass_g, dose_g=dose_g),
        retained_g=pl.when(~unknown).then(
            extraction.retained_g(
                water_g=pl.col("water_g"),
                evaporated_g=pl.col("evaporated_0_g"),
                beverage_g=before_bypass_g,
                tds_pct=pl.col("undiluted_pct"),
            )
        ),
    )
    dry_dose_g = extraction.dry_dose_g(dose_g=dose_g, moisture_pct=pl.col("moisture_pct"))
    dissolved_g = pl.col("dissolved_g")
    return brews.with_columns(
        extraction_yield_pct=extraction.extraction_yield_pct(dissolved_g=dissolved_g, dose_g=dose_g),
        extraction_yield_dry_pct=extraction.extraction_yield_pct(dissolved_g=dissolved_g, dose_g=dry_dose_g),
        retained_ratio=extraction.mass_ratio(mass_g=pl.col("retained_g"), dose_g=dose_g),
    )


def _dissolved_g() -> pl.Expr:
    """Dissolved matter by the balance that applies."""
    undiluted_pct = pl.col("undiluted_pct")
    percolation = extraction.percolation_dissolved_g(beverage_g=pl.col("before_bypass_g"), tds_pct=undiluted_pct)
    immersion = extraction.immersion_dissolved_g(
        water_g=pl.col("water_g"), evaporated_g=pl.col("evaporated_0_g"), tds_pct=undiluted_pct
    )
    balance = pl.col("balance_used")
    return pl.when(balance == "percolation").then(percolation).when(balance == "immersion").then(immersion)


def _cup_tds_pct() -> pl.Expr:
    """Strength as served: the reading itself where no bypass came after it, weighed or not."""
    diluted = extraction.cup_tds_pct(
        tds_pct=pl.col("undiluted_pct"), beverage_g=pl.col("before_bypass_g"), bypass_g=pl.col("bypass_0_g")
    )
    as_read = ~HAS_BYPASS | (pl.col("read_after") == 1)
    return pl.when(as_read).then("tds_pct").otherwise(diluted)
