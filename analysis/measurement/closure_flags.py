"""Likely weighing errors as rows for `flags`."""

from __future__ import annotations

import polars as pl

from analysis.facts.flags.rows import FOUND, speak
from analysis.measurement.closure_residuals import closure_rows
from analysis.measurement.closure_suspects import Suspect, screen
from analysis.measurement.closure_words import suspect_words
from schemas.lab import LabSettings


def weighing_errors(brews: pl.DataFrame, settings: LabSettings) -> pl.DataFrame:
    """Brews whose weights stand apart; rows of `FOUND`.

    `brews` are facts with `brew` and their weighing scale's scale_standard_uncertainty and scale_resolution. Retained
    water that only common practice calls unusual is left to its own rule.
    """
    suspects = [
        one
        for one in screen(closure_rows(brews, settings)).suspects
        if one.evidence == "mass balance" or one.usual.basis == "brews"
    ]
    if not suspects:
        return pl.DataFrame(schema=FOUND)
    said = pl.DataFrame(
        [(one.brew_id, _column(one), f"{suspect_words(one)}.") for one in suspects],
        schema={"brew_id": pl.String, "column": pl.String, "detail": pl.String},
        orient="row",
    )
    weights = pl.coalesce(
        pl.when(pl.col("column") == name).then(name) for name in ("dose_g", "water_g", "beverage_g", "spent_wet_g")
    )
    found = brews.join(said, on="brew_id", how="inner", maintain_order="left")
    return speak(found.select("brew", "column", "detail", value=weights), "likely_weighing_error")


def _column(one: Suspect) -> str:
    """The weight to look at first."""
    if one.explanations:
        return one.explanations[0].column
    return "spent_wet_g" if one.evidence == "mass balance" else "beverage_g"
