"""Values that look like another unit, another column, or a lost decimal point: only where the remedy fits too."""

from __future__ import annotations

from dataclasses import dataclass

import polars as pl

from analysis.facts.flags.ranges import (
    METHOD,
    RETAINED_HIGH,
    RETAINED_LOW,
    STRENGTH_HIGH,
    STRENGTH_LOW,
    VALID,
    YIELD_PCT,
    inside,
    outside,
)
from analysis.facts.flags.rows import speak

SAMPLE_FAHRENHEIT = (59.0, 86.0)
"""15 to 30 C, where samples are read; in C this would be far too hot to read."""
COLD_BREW_FAHRENHEIT = (50.0, 90.0)
"""10 to 32 C, where cold brews steep."""
COLD_FOR_HOT_C = (8.0, 10.0)
"""Ten times this is a hot brew's water."""
MAY_BE_COLD = ("cold_brew", "other")
SWAPPED_RETAINED = (0.3, 4.0)
FAR_FROM_MEDIAN = 4.0
HAS_NO_BYPASS = pl.col("bypass_g").fill_null(0.0) == 0


def odd_readings(readings: pl.DataFrame, facts: pl.DataFrame) -> pl.DataFrame:
    """Readings that fit only as a fraction, or with the decimal point moved one place.

    A remedy counts only where it brings the strength into the method's range and, if the brew has a yield, the yield
    too; the strength of a reading is taken as proportional to its yield.
    """
    known = facts.select("brew", "extraction_yield_pct", mean_pct="tds_pct")
    strength = pl.col("strength_pct")
    yield_pct = pl.col("extraction_yield_pct") * strength / pl.col("mean_pct")

    def mended_by(factor: float) -> pl.Expr:
        fits = yield_pct.is_null() | inside(yield_pct * factor, *YIELD_PCT)
        return inside(strength * factor, STRENGTH_LOW, STRENGTH_HIGH) & fits

    odd = outside(strength, STRENGTH_LOW, STRENGTH_HIGH)
    found = (
        readings.filter(VALID)
        .join(known, on="brew", how="inner", maintain_order="left")
        .filter(odd)
        .with_columns(
            times=pl.when(mended_by(100)).then(100.0).when(mended_by(10)).then(10.0).when(mended_by(0.1)).then(0.1)
        )
        .filter(pl.col("times").is_not_null())
        .select("brew", "reading", "times", value="tds_pct", suggest=pl.col("tds_pct") * pl.col("times"))
    )
    tenfold = found.filter(pl.col("times") != 100).with_columns(direction=_direction(pl.col("times")))
    return pl.concat(
        [
            speak(found.filter(pl.col("times") == 100), "looks_like_fraction", column="tds_pct", digits=4),
            speak(tenfold, "looks_tenfold", column="tds_pct", digits=3),
        ]
    )


def _direction(times: pl.Expr) -> pl.Expr:
    return pl.when(times > 1).then(pl.lit("low")).otherwise(pl.lit("high"))


def unnamed_brix(readings: pl.DataFrame) -> pl.DataFrame:
    """Readings called dissolved solids on an instrument whose unit is Brix: one flag a brew and instrument."""
    in_brix = pl.col("unit").str.to_lowercase().str.contains("brix").fill_null(False)
    called_tds = pl.col("reading_scale").fill_null("tds") == "tds"
    found = readings.filter(VALID & in_brix & called_tds).unique(
        ["brew", "instrument_id"], keep="first", maintain_order=True
    )
    return speak(found.select("brew", "reading", value="tds_pct"), "looks_like_brix", column="tds_pct")


def fahrenheit(brews: pl.DataFrame, readings: pl.DataFrame) -> pl.DataFrame:
    """Temperatures that make sense only in Fahrenheit: one flag a brew and column."""
    warm = VALID & inside(pl.col("sample_temp_c"), *SAMPLE_FAHRENHEIT)
    samples = readings.filter(warm).unique("brew", keep="first", maintain_order=True)
    cold = VALID & (pl.col("method") == "cold_brew") & inside(pl.col("water_temp_c"), *COLD_BREW_FAHRENHEIT)
    in_samples = samples.select("brew", "reading", value="sample_temp_c")
    in_water = brews.filter(cold).select("brew", value="water_temp_c")
    return pl.concat(
        [
            speak(in_samples, "looks_like_fahrenheit", column="sample_temp_c"),
            speak(in_water, "looks_like_fahrenheit", column="water_temp_c"),
        ]
    )


def swapped(brews: pl.DataFrame) -> pl.DataFrame:
    """More beverage than water without any bypass, and a plausible bed once the two trade places."""
    more = (pl.col("beverage_g") - pl.col("water_g")) / pl.col("dose_g")
    found = brews.filter(VALID & HAS_NO_BYPASS & inside(more, *SWAPPED_RETAINED)).select("brew", value="water_g")
    return speak(found, "looks_swapped", column="water_g")


@dataclass(frozen=True, slots=True)
class Shift:
    """A decimal point moved in one mass: the column, and the factor that would put it right."""

    column: str
    times: float

    def applied(self, column: str) -> pl.Expr:
        """That column after the mending."""
        return pl.col(column) * (self.times if column == self.column else 1.0)


BED_SHIFTS = (Shift("dose_g", 0.1), Shift("dose_g", 10.0), Shift("water_g", 0.1), Shift("beverage_g", 10.0))


def tenfold_masses(brews: pl.DataFrame) -> pl.DataFrame:
    """A mass whose decimal point, moved one place, mends the retained water and the yield at once."""
    both = VALID & HAS_NO_BYPASS & pl.col("water_g").is_not_null() & pl.col("beverage_g").is_not_null()
    wet = pl.col("water_g") - pl.col("beverage_g")
    least = wet / pl.col("dose_g")
    odd = outside(least, RETAINED_LOW - 0.5, RETAINED_HIGH + 0.5)
    beds = brews.filter(both & odd)
    found = [
        beds.filter(_mends_bed(shift)).select(
            "brew", column=pl.lit(shift.column), value=shift.column, times=pl.lit(shift.times)
        )
        for shift in BED_SHIFTS
    ]
    shifted = pl.concat([*found, _steeped(brews)]).unique("brew", keep="first", maintain_order=True)
    return speak(
        shifted.with_columns(direction=_direction(pl.col("times")), suggest=pl.col("value") * pl.col("times")),
        "looks_tenfold",
    )


def _mends_bed(shift: Shift) -> pl.Expr:
    """Whether the shift brings retained water, and the yield where there is one, into their ranges."""
    retained = (shift.applied("water_g") - shift.applied("beverage_g")) / shift.applied("dose_g")
    yield_pct = pl.col("extraction_yield_pct") * shift.applied("beverage_g") / pl.col("beverage_g")
    yield_pct = yield_pct * pl.col("dose_g") / shift.applied("dose_g")
    return inside(retained, RETAINED_LOW, RETAINED_HIGH) & (yield_pct.is_null() | inside(yield_pct, *YIELD_PCT))


def _steeped(brews: pl.DataFrame) -> pl.DataFrame:
    """Immersions with a tenth of a usual yield at a usual strength, where one mass is far from the method's median."""
    usual = {f"usual_{name}": pl.col(name).filter(VALID).median().over("method") for name in ("dose_g", "water_g")}
    tenth = inside(pl.col("extraction_yield_pct") * 10, *YIELD_PCT)
    odd = (
        brews.with_columns(**usual)
        .filter(VALID & (pl.col("balance_used") == "immersion") & tenth)
        .filter(inside(pl.col("tds_pct"), STRENGTH_LOW, STRENGTH_HIGH))
    )
    heavy = odd.filter(pl.col("dose_g") > FAR_FROM_MEDIAN * pl.col("usual_dose_g"))
    light = odd.filter(pl.col("water_g") * FAR_FROM_MEDIAN < pl.col("usual_water_g"))
    return pl.concat(
        [
            heavy.select("brew", column=pl.lit("dose_g"), value="dose_g", times=pl.lit(0.1)),
            light.select("brew", column=pl.lit("water_g"), value="water_g", times=pl.lit(10.0)),
        ]
    )


def cold_for_hot(brews: pl.DataFrame) -> pl.DataFrame:
    """Water of a hot brew near 9 C: the point is one place off."""
    hot = ~pl.col("method").is_in(MAY_BE_COLD)
    found = brews.filter(VALID & hot & inside(pl.col("water_temp_c"), *COLD_FOR_HOT_C)).select(
        "brew", METHOD, value="water_temp_c", suggest=pl.col("water_temp_c") * 10, direction=pl.lit("low")
    )
    return speak(found, "looks_tenfold", column="water_temp_c")
