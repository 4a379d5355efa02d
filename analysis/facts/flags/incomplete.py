"""What a brew lacks, so that a number stays empty, and what a void brew breaks."""

from __future__ import annotations

import polars as pl

from analysis.facts.flags.ranges import VALID
from analysis.facts.flags.rows import FOUND, first_of_each, speak
from analysis.facts.masses import BYPASS_UNCLEAR, EVAPORATION_MISSING, HAS_BYPASS, with_extraction
from analysis.physics import (
    EXCEEDS_WATER,
    MAX_YIELD_PCT,
    MISSING_MASS,
    NEEDED_MASS,
    WATER_AND_DOSE_G,
    YIELD_TOO_HIGH,
    beyond_words,
    plain,
)
from schemas.lab import LabSettings
from schemas.rules import RULES

COMPOUND = r"^\s*\d+(\s*[.+,:/\s]\s*\d+)+\s*$"
"""A dial setting of several numbers, which a declared dial may explain."""
STANDS = "it is left out; the other readings stand"


def unclear_bypass(brews: pl.DataFrame) -> pl.DataFrame:
    """Bypass without its answers, or more of it than the beverage that should contain it."""
    empty = [
        pl.when(pl.col(name).is_null()).then(pl.lit(name)) for name in ("bypass_included", "bypass_before_reading")
    ]
    unclear = brews.filter(VALID & BYPASS_UNCLEAR).select(
        "brew",
        value="bypass_g",
        missing=pl.concat_str(empty, separator=" and ", ignore_nulls=True),
    )
    contained = HAS_BYPASS & pl.col("bypass_included") & (pl.col("beverage_g") <= pl.col("bypass_g"))
    too_much = brews.filter(VALID & contained.fill_null(False)).select("brew", value="bypass_g", limit="beverage_g")
    return pl.concat(
        [
            speak(unclear, "bypass_unclear", column="bypass_g"),
            speak(too_much, "bypass_exceeds_beverage", column="bypass_g"),
        ]
    )


def missing_evaporation(brews: pl.DataFrame) -> pl.DataFrame:
    """Boiled brews that say nothing of what boiled off."""
    found = brews.filter(VALID & EVAPORATION_MISSING).select("brew", value=pl.lit(""))
    return speak(found, "evaporation_missing", column="evaporated_g")


def unusable_readings(readings: pl.DataFrame, settings: LabSettings) -> pl.DataFrame:
    """Readings that say no strength: taken on a milk drink, or in Brix without a factor; one flag a brew and kind."""
    some_left = pl.col("strength_pct").is_not_null().any().over("brew")
    readings = readings.filter(VALID).with_columns(
        consequence=pl.when(some_left).then(pl.lit(STANDS)).otherwise(pl.lit("there is no yield"))
    )
    on_milk = pl.col("served_as").eq("milk").fill_null(False)
    in_brix = pl.col("reading_scale").eq("brix").fill_null(False) & ~on_milk & (settings.brix_factor is None)
    parts = [(on_milk, "reading_on_milk", "served_as"), (in_brix, "brix_without_factor", "reading_scale")]
    found = [
        speak(
            readings.filter(which)
            .unique("brew", keep="first", maintain_order=True)
            .select("brew", "reading", "consequence", value=column),
            rule,
            column=column,
        )
        for which, rule, column in parts
    ]
    return pl.concat(found)


def missing_mass(brews: pl.DataFrame) -> pl.DataFrame:
    """Masses without which there is no yield, in brews that are kept all the same."""
    read_after = HAS_BYPASS & pl.col("bypass_before_reading") & pl.col("bypass_included").is_not_null()
    for_dilution = VALID & ~MISSING_MASS & read_after.fill_null(False) & pl.col("beverage_g").is_null()
    found = [
        brews.filter(MISSING_MASS).select("brew", column=NEEDED_MASS),
        brews.filter(for_dilution).select("brew", column=pl.lit("beverage_g")),
    ]
    return speak(pl.concat(found).with_columns(value=pl.lit("")), "mass_missing")


def broken_voids(brews: pl.DataFrame) -> pl.DataFrame:
    """Void brews whose masses or yield break a rule that would set another brew aside."""
    void = with_extraction(brews.filter(~VALID))
    heavy = RULES["beverage_exceeds_water"].message
    found = [
        {"brew": brew, "column": "beverage_g", "value": plain(beverage), "detail": words}
        for brew, beverage, limit in void.filter(EXCEEDS_WATER)
        .select("brew", "beverage_g", WATER_AND_DOSE_G)
        .iter_rows()
        for words in [heavy.format(value=plain(beverage), limit=plain(limit))]
    ]
    high = RULES["yield_too_high"].message
    found += [
        {
            "brew": brew,
            "column": "extraction_yield_pct",
            "value": words,
            "detail": high.format(value=words, limit=plain(MAX_YIELD_PCT)),
        }
        for brew, value in void.filter(YIELD_TOO_HIGH).select("brew", "extraction_yield_pct").iter_rows()
        for words in [beyond_words(value)]
    ]
    return speak(pl.DataFrame(found), "void_breaks_rule") if found else pl.DataFrame(schema=FOUND)


def unread_dials(brews: pl.DataFrame) -> pl.DataFrame:
    """Dials that cannot be read, and grinders that do not say which way is finer.

    One flag a file and grinder where saying it once mends all (how a compound dial counts, which way it runs), else
    one a file, grinder and setting.
    """
    where = ("source_file", "sheet", "grinder_id")
    compound = pl.col("grind_setting").str.contains(COMPOUND)
    unread = brews.filter(VALID & pl.col("grind_setting").is_not_null() & pl.col("grind_dial").is_null())
    lost = (
        VALID & pl.col("grind_dial").is_not_null() & pl.col("grinder_id").is_not_null() & pl.col("finer_is").is_null()
    )
    return pl.concat(
        [
            speak(
                first_of_each(
                    unread.select(
                        *where,
                        "brew",
                        value="grind_setting",
                        grinder=pl.format("Grinder {}", "grinder_id").fill_null("No grinder is named"),
                        say=pl.when(pl.col("grinder_id").is_null())
                        .then(pl.lit("Fill in grinder_id, and say"))
                        .otherwise(pl.lit("Say")),
                        setting=pl.when(pl.col("dial").is_not_null() | ~compound).then("grind_setting"),
                    ),
                    *where,
                    "setting",
                ),
                "dial_not_read",
                column="grind_setting",
            ),
            speak(
                first_of_each(brews.filter(lost).select(*where, "brew", value="grinder_id"), *where),
                "finer_is_unknown",
                column="grinder_id",
            ),
        ]
    )


def before_roast(brews: pl.DataFrame) -> pl.DataFrame:
    """Brews before their coffee was roasted, or of a lot frozen for longer than it is old: one flag a file and roast.

    One wrong roast date touches every brew of it, and the sentence counts them.
    """
    where = ("source_file", "sheet", "coffee_id", "lot_id", "roasted_on")
    frozen = pl.col("frozen_days")
    early = brews.filter(VALID & (pl.col("days_off_roast") < 0).fill_null(False)).select(
        *where,
        "brew",
        "brewed_on",
        value="days_off_roast",
        frozen=pl.when(frozen > 0).then(pl.format(", frozen for {} days", frozen)).otherwise(pl.lit("")),
    )
    return speak(first_of_each(early, *where), "before_roast", column="days_off_roast")


def bare_days(brews: pl.DataFrame) -> pl.DataFrame:
    """Files whose brews give only the day: one flag a file."""
    where = ("source_file", "sheet")
    bare = brews.filter(VALID & pl.col("brewed_at_is_date").fill_null(False))
    found = first_of_each(bare.select(*where, "brew", value=pl.col("brewed_on").cast(pl.String)), *where)
    return speak(found, "time_only_day", column="brewed_at")
