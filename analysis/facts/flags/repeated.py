"""Brews that repeat another one in every value but the id: a row pasted twice."""

from __future__ import annotations

import polars as pl

from analysis.facts.flags.ranges import VALID
from analysis.facts.flags.rows import speak
from schemas.contracts.brews import BREWS

OWN = ("brew_id", "run_order")
SAID = tuple(name for name in BREWS.column_names if name not in OWN)
GLANCE = ("brewed_at", "coffee_id", "dose_g")
MANY_ALIKE = ("cupping",)


def repeated(brews: pl.DataFrame, readings: pl.DataFrame) -> pl.DataFrame:
    """The later of two brews that agree in every value, readings included.

    At least one reading must agree; two where only the day is known or where bowls are set up by the dozen, since
    round numbers meet by chance there.
    """
    alike = brews.filter(VALID & (pl.col("n_readings") > 0))
    for names in (GLANCE, SAID):  # few rows pass a glance, so that the rest is looked at in those alone
        alike = alike.filter(pl.struct(names).hash(seed=1).is_duplicated())
    alike = alike.join(_readings_in_words(readings, alike), on="brew", how="left", maintain_order="left")
    loose = pl.col("brewed_at_is_date").fill_null(False) | pl.col("method").is_in(MANY_ALIKE)
    rows = alike.filter(pl.col("n_readings") >= pl.when(loose).then(2).otherwise(1)).sort(
        "source_file", "sheet", "line", "brew"
    )
    same = pl.struct(*SAID, "said")
    rows = rows.with_columns(pl.first("brew", "source_file", "line").over(same).name.prefix("first_"))
    elsewhere = pl.when(pl.col("first_source_file").ne_missing(pl.col("source_file"))).then(
        pl.format(" of {}", "first_source_file")
    )
    other = pl.concat_str(pl.col("first_line").cast(pl.String), elsewhere, ignore_nulls=True)
    later = rows.filter(pl.col("brew") != pl.col("first_brew")).select("brew", value="brew_id", other=other)
    return speak(later, "looks_repeated", column="brew_id")


def _readings_in_words(readings: pl.DataFrame, brews: pl.DataFrame) -> pl.DataFrame:
    """Each brew and said: its readings as one text, in key order."""
    wanted = readings.join(brews.select("brew"), on="brew", how="semi", maintain_order="left")
    return wanted.group_by("brew", maintain_order=True).agg(
        said=pl.concat_str(
            *(pl.col(name).fill_null("") for name in ("instrument_id", "reading_scale", "served_as")),
            pl.col("tds_pct").cast(pl.String),
            separator=" ",
        ).str.join("; ")
    )
