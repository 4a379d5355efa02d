"""What a declared correction did to the readings of a brew, in words that go with its numbers."""

from __future__ import annotations

import polars as pl

from schemas.lab import Correction, LabSettings


def correction_notes(readings: pl.DataFrame, settings: LabSettings) -> pl.DataFrame:
    """Brews with corrected readings, and correction_note; `readings` come from `read_strength`.

    Says too where a corrected reading lies beyond the strengths that the checks behind the correction span.
    """
    declared = pl.DataFrame(
        [(c.instrument_id, formula(c), c.low, c.high, _checked(c)) for c in settings.corrections],
        schema={
            "instrument_id": pl.String,
            "formula": pl.String,
            "low": pl.Float64,
            "high": pl.Float64,
            "checked": pl.String,
        },
        orient="row",
    )
    shown = pl.col("strength_pct") / pl.col("unit_pct")
    beyond = ((shown < pl.col("low")) | (shown > pl.col("high"))).any()
    return (
        readings.filter(pl.col("strength_pct").is_not_null())
        .join(declared, on="instrument_id", how="inner", maintain_order="left")
        .group_by("brew", "instrument_id", maintain_order=True)
        .agg(pl.first("formula", "checked"), beyond=beyond)
        .with_columns(
            note=pl.format("{}: {}", "instrument_id", "formula")
            + pl.when("beyond").then(pl.format(", {}", "checked")).otherwise(pl.lit(""))
        )
        .group_by("brew", maintain_order=True)
        .agg(correction_note=pl.col("note").str.join("; "))
    )


def formula(applied: Correction) -> str:
    """The correction as arithmetic on a reading.

    >>> formula(Correction("r", offset=0.02)), formula(Correction("r", offset=-0.01, slope=1.05))
    ('reading - 0.02', '(reading + 0.01) / 1.05')
    >>> formula(Correction("r", slope=1.05)), formula(Correction("r"))
    ('reading / 1.05', 'reading')
    """
    shifted = f"reading {'-' if applied.offset > 0 else '+'} {abs(applied.offset):g}" if applied.offset else "reading"
    if applied.slope == 1:
        return shifted
    return f"({shifted}) / {applied.slope:g}" if applied.offset else f"{shifted} / {applied.slope:g}"


def _checked(applied: Correction) -> str:
    """Where the correction was checked, for readings beyond."""
    if applied.low is None or applied.high is None:
        return ""
    span = f"{applied.low:g}" if applied.low == applied.high else f"{applied.low:g} to {applied.high:g}"
    return f"checked at {span} only"
