"""All soft rules over one commit: a plain list of checks, their findings put into words and places."""

from __future__ import annotations

from collections.abc import Sequence

import polars as pl

from analysis.facts.derive import JOINED_EXTRA, brew_readings
from analysis.facts.flags import apart, incomplete, looks_like, ranges
from analysis.facts.flags.doubtful import in_doubt
from analysis.facts.flags.repeated import repeated
from analysis.facts.flags.rows import flag_rows
from analysis.measurement.closure_flags import weighing_errors
from analysis.measurement.doubt import Doubt
from schemas.lab import LabSettings

KEPT_EXTRA = tuple(name for name in JOINED_EXTRA if name not in ("coffee_name", "roast_level"))


def find_flags(
    facts: pl.DataFrame,
    joined: pl.DataFrame,
    readings: pl.DataFrame,
    *,
    settings: LabSettings,
    doubts: Sequence[Doubt] = (),
) -> pl.DataFrame:
    """`flags`: one row per kept row and rule it met, `FLAG_COLUMNS`, in file order.

    `facts` come from `derive_facts` over the same `joined` and `readings`. Void brews meet only `void_breaks_rule` and
    `mass_missing`. `doubts` are spans in which an instrument was not to be relied on. `near_miss` is found elsewhere.
    """
    brews = (
        facts.with_row_index("brew")
        .with_columns(pl.col("brew").cast(pl.Int64))
        .join(joined.select("brew_id", *KEPT_EXTRA), on="brew_id", how="left", maintain_order="left")
    )
    read = brew_readings(brews, readings, settings).with_row_index("reading")
    read = read.with_columns(pl.col("reading").cast(pl.Int64))
    found = [
        ranges.unusual_yield(brews),
        ranges.unusual_strength(brews, read),
        ranges.unusual_retention(brews),
        ranges.too_hot(brews, settings),
        incomplete.unclear_bypass(brews),
        incomplete.missing_evaporation(brews),
        incomplete.unusable_readings(read, settings),
        incomplete.missing_mass(brews),
        incomplete.broken_voids(brews),
        incomplete.unread_dials(brews),
        incomplete.before_roast(brews),
        incomplete.bare_days(brews),
        apart.readings_apart(read),
        looks_like.odd_readings(read, brews),
        looks_like.unnamed_brix(read),
        looks_like.fahrenheit(brews, read),
        looks_like.swapped(brews),
        looks_like.tenfold_masses(brews),
        looks_like.cold_for_hot(brews),
        repeated(brews, read),
        weighing_errors(brews, settings),
        in_doubt(brews, read, doubts, settings),
    ]
    return flag_rows(pl.concat(found), brews, read, settings=settings)
