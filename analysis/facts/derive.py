"""From joined brews and readings to `brew_facts`: one row per brew, every derived column."""

from __future__ import annotations

import polars as pl

from analysis.extraction import mass_ratio
from analysis.facts.grind import with_grind
from analysis.facts.masses import PHYSICAL, with_extraction
from analysis.facts.strength import read_strength, reading_groups, strength_per_brew
from analysis.facts.targets import with_targets
from analysis.facts.yield_uncertainty import with_yield_uncertainty
from analysis.measurement.facts_budget import scatter_quartic, with_yield_budget
from analysis.physics import EXCEEDS_WATER, YIELD_TOO_HIGH
from schemas.columns import COLUMNS
from schemas.dtypes import frame_schema
from schemas.lab import LabSettings
from schemas.reports import FACT_COLUMNS

JOINED_EXTRA = (
    "coffee_name",
    "roast_level",
    "roasted_on",
    "moisture_pct",
    "frozen_days",
    "finer_is",
    "step_um",
    "dial",
    "scale_standard_uncertainty",
    "scale_resolution",
)
"""What `derive_facts` needs of a brew's coffee, lot, grinder and scale, besides the stored brew."""
READING_EXTRA = ("resolution", "standard_uncertainty", "unit")
"""What it needs of a reading's instrument, besides the stored reading."""
READING_COLUMNS = (
    "brew_id",
    "instrument_id",
    "sample_no",
    "reading_no",
    "tds_pct",
    "reading_scale",
    "served_as",
    "read_by",
    "resolution",
    "standard_uncertainty",
)
"""The part of a reading that bears on strength."""
FACT_SCHEMA = frame_schema([COLUMNS[name] for name in FACT_COLUMNS])
FACT_ORDER = ("brewed_at", "run_order", "line", "brew_id")


def derive_facts(
    joined: pl.DataFrame, readings: pl.DataFrame, targets: pl.DataFrame, *, settings: LabSettings
) -> pl.DataFrame:
    """`brew_facts`, exactly `FACT_COLUMNS`, sorted by `FACT_ORDER` (empty cells last).

    `joined` has stored brews with `JOINED_EXTRA` (lot before coffee), `readings` stored readings with `READING_EXTRA`.
    """
    brews = with_days(joined, settings).sort(FACT_ORDER, nulls_last=True).with_row_index("brew")
    said = brew_readings(brews, readings.select(READING_COLUMNS), settings)
    strength = strength_per_brew(said, settings).join(
        scatter_quartic(reading_groups(said, settings)), on="brew", how="left"
    )
    facts = with_extraction(brews.join(strength, on="brew", how="left", maintain_order="left"))
    facts = _without_broken_voids(_without_unknown_strength(facts))
    facts = with_grind(with_yield_budget(with_yield_uncertainty(facts, settings), settings), settings)
    facts = facts.with_columns(
        pl.col("n_readings").fill_null(0),
        channeled=pl.when(pl.col("channeling").is_not_null()).then(pl.col("channeling") != "none"),
        planned_water_ratio=mass_ratio(mass_g=pl.col("planned_water_g"), dose_g=pl.col("planned_dose_g")),
        planned_beverage_ratio=mass_ratio(mass_g=pl.col("planned_beverage_g"), dose_g=pl.col("planned_dose_g")),
    )
    return with_targets(facts, targets).select(FACT_COLUMNS).cast(pl.Schema(FACT_SCHEMA))


def with_days(joined: pl.DataFrame, settings: LabSettings) -> pl.DataFrame:
    """Joined brews with is_void, brewed_on (the lab's calendar day) and days_off_roast (less days frozen)."""
    brewed_on = pl.col("brewed_at").dt.convert_time_zone(settings.timezone).dt.date()
    days = (brewed_on - pl.col("roasted_on")).dt.total_days() - pl.col("frozen_days").fill_null(0)
    return joined.with_columns(is_void=pl.col("void_reason").is_not_null(), brewed_on=brewed_on, days_off_roast=days)


def brew_readings(brews: pl.DataFrame, readings: pl.DataFrame, settings: LabSettings) -> pl.DataFrame:
    """Readings with what they say (`read_strength`) and brew, method and is_void of their brew, in key order.

    `brews` has brew, a row number that stands for `brew_id`.
    """
    kept = brews.select("brew_id", "brew", "method", "is_void")
    place = readings["instrument_id"].unique().sort(nulls_last=True).to_frame().with_row_index("instrument")
    ordered = (
        readings.join(kept, on="brew_id", how="inner")
        .join(place, on="instrument_id", how="left", nulls_equal=True)
        .sort("brew", "instrument", "sample_no", "reading_no")
        .drop("instrument")
    )
    return read_strength(ordered, settings)


def _without_unknown_strength(facts: pl.DataFrame) -> pl.DataFrame:
    """Where the strength is unknown, so are its spread and its uncertainty."""
    known = pl.col("tds_pct").is_not_null()
    return facts.with_columns(pl.when(known).then(pl.col("tds_sd_pct", "tds_u_pct")).name.keep())


def _without_broken_voids(facts: pl.DataFrame) -> pl.DataFrame:
    """A void brew keeps its row; what its masses give is null where they break a rule."""
    broken = pl.col("is_void") & (EXCEEDS_WATER | YIELD_TOO_HIGH)
    return facts.with_columns(pl.when(~broken).then(pl.col(*PHYSICAL)).name.keep())
