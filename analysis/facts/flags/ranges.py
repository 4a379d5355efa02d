"""Values that are possible but unusual: yield, strength, retained water, hot water."""

from __future__ import annotations

import polars as pl

from analysis.boiling import boiling_point_c
from analysis.facts.flags.rows import FOUND, speak
from analysis.physics import ROUNDING
from analysis.slip import OTHER_STRENGTH_PCT, STRENGTH_PCT
from schemas.lab import LabSettings
from schemas.methods import METHOD_WORDS, PRESSURISED_METHODS

YIELD_PCT = (8.0, 28.0)
SOLUBLE_PCT = 30.0
RETAINED_G_PER_G = {"espresso": (0.5, 2.5), "pour_over": (1.2, 3.5), "batch_brew": (1.2, 3.5)}
ABOVE_BOILING_C = 1.5
PRESSURISED_MAX_C = 130.0
MOST_DISSOLVED_G_PER_G = 0.3
"""Without a reading, the dissolved part of the beverage is between nothing and this, per gram of dose."""

VALID = ~pl.col("is_void")


def outside(value: pl.Expr, low: pl.Expr | float, high: pl.Expr | float) -> pl.Expr:
    """Whether a value is known and out of bounds (0 or more); a bound is inside, whatever its last float digit."""
    return ((value < low * (1 - ROUNDING)) | (value > high * (1 + ROUNDING))).fill_null(False)


def inside(value: pl.Expr, low: pl.Expr | float, high: pl.Expr | float) -> pl.Expr:
    """Whether a value is known and within bounds."""
    return ((value >= low) & (value <= high)).fill_null(False)


def by_method(bounds: dict[str, tuple[float, float]], end: int, default: float | None) -> pl.Expr:
    """The lower (0) or upper (1) bound for each brew's method."""
    ends = {method: both[end] for method, both in bounds.items()}
    return pl.col("method").replace_strict(ends, default=default, return_dtype=pl.Float64)


STRENGTH_LOW = by_method(STRENGTH_PCT, 0, OTHER_STRENGTH_PCT[0])
STRENGTH_HIGH = by_method(STRENGTH_PCT, 1, OTHER_STRENGTH_PCT[1])
RETAINED_LOW = by_method(RETAINED_G_PER_G, 0, None)
RETAINED_HIGH = by_method(RETAINED_G_PER_G, 1, None)
METHOD = pl.col("method").replace_strict(METHOD_WORDS, default="this method").alias("method")


def unusual_yield(brews: pl.DataFrame) -> pl.DataFrame:
    """Yields outside 8 to 28 %, and those over 30 % under their own, stronger rule."""
    yield_pct = pl.col("extraction_yield_pct")
    found = brews.filter(VALID & outside(yield_pct, *YIELD_PCT)).select(
        "brew", value=yield_pct, low=pl.lit(YIELD_PCT[0]), high=pl.lit(YIELD_PCT[1])
    )
    beyond = outside(pl.col("value"), 0.0, SOLUBLE_PCT)
    strong = found.filter(beyond).with_columns(high=pl.lit(SOLUBLE_PCT))
    column = "extraction_yield_pct"
    return pl.concat(
        [
            speak(found.filter(~beyond), "yield_unusual", column=column, digits=1),
            speak(strong, "yield_beyond_soluble", column=column, digits=1),
        ]
    )


def unusual_strength(brews: pl.DataFrame, readings: pl.DataFrame) -> pl.DataFrame:
    """Where no yield can be computed: mean readings outside what the method gives."""
    without = brews.filter(VALID & pl.col("extraction_yield_pct").is_null()).select("brew", "method")
    means = readings.group_by("brew").agg(value=pl.col("strength_pct").mean())
    found = (
        without.join(means, on="brew", how="inner")
        .filter(outside(pl.col("value"), STRENGTH_LOW, STRENGTH_HIGH))
        .select("brew", "value", METHOD, low=STRENGTH_LOW, high=STRENGTH_HIGH)
    )
    return speak(found, "strength_unusual", column="tds_pct")


def unusual_retention(brews: pl.DataFrame) -> pl.DataFrame:
    """Water left behind, both weights known, outside what the method's bed holds.

    Without a strength the dissolved part is unknown: flagged only where no amount of it would help.
    """
    least = (pl.col("water_g") - pl.col("evaporated_g").fill_null(0.0)) / pl.col("dose_g") - pl.col("beverage_ratio")
    value = pl.coalesce("retained_ratio", least)
    slack = pl.when(pl.col("retained_ratio").is_null()).then(MOST_DISSOLVED_G_PER_G).otherwise(0.0)
    found = brews.filter(VALID & outside(value, RETAINED_LOW - slack, RETAINED_HIGH)).select(
        "brew", METHOD, value=value, low=RETAINED_LOW, high=RETAINED_HIGH
    )
    return speak(found, "retained_unusual", column="retained_ratio")


def too_hot(brews: pl.DataFrame, settings: LabSettings) -> pl.DataFrame:
    """Water above boiling at the lab's altitude in open methods, above 130 C under pressure."""
    boiling_c = boiling_point_c(settings.altitude_m)
    pressurised = pl.col("method").is_in(PRESSURISED_METHODS)
    highest = pl.when(pressurised).then(PRESSURISED_MAX_C).otherwise(boiling_c + ABOVE_BOILING_C)
    hot = brews.filter(VALID & (pl.col("water_temp_c") > highest).fill_null(False))
    found = hot.select(
        "brew",
        METHOD,
        pressurised=pressurised,
        value="water_temp_c",
        limit=pl.when(pressurised).then(PRESSURISED_MAX_C).otherwise(boiling_c),
        altitude=pl.lit(float(settings.altitude_m)),
    )
    column = "water_temp_c"
    return pl.concat(
        [
            pl.DataFrame(schema=FOUND),
            speak(found.filter(~pl.col("pressurised")), "above_boiling", column=column, digits=1),
            speak(found.filter("pressurised"), "hotter_than_pressure_gives", column=column, digits=1),
        ]
    )
