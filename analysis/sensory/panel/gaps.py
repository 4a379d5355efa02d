"""Cups that somebody did not taste, and attributes that somebody skipped: counted, never filled in."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import polars as pl


@dataclass(frozen=True)
class Gaps:
    """`n_cups` there were to taste for each palate; by assessor code those `not_tasted`; `skipped` by attribute.

    A cup is a product in a session, as often as the palate that tasted it most often; `skipped` counts scores that are
    missing of cups whose other attributes were scored: (assessor code, attribute) to how many, none where zero.
    """

    n_cups: int
    not_tasted: Mapping[int, int]
    skipped: Mapping[tuple[int, str], int]


def count_gaps(coded: pl.DataFrame) -> Gaps:
    """Gaps of scores coded by `assessor`, `point`, `session` and `attribute`."""
    given = coded.group_by("assessor", "point", "session", "attribute").len("n")
    tasted = given.group_by("assessor", "point", "session").agg(pl.col("n").max().alias("tasted"))
    cups = tasted.group_by("point").agg(pl.col("tasted").max())["tasted"].sum()
    own = dict(tasted.group_by("assessor").agg(pl.col("tasted").sum()).iter_rows())
    asked = given.select("session", "attribute").unique()
    skipped = (
        tasted.join(asked, on="session")
        .join(given, on=["assessor", "point", "session", "attribute"], how="left")
        .with_columns(short=pl.col("tasted") - pl.col("n").fill_null(0))
        .group_by("assessor", "attribute")
        .agg(pl.col("short").sum())
        .filter(pl.col("short") > 0)
        .sort("assessor", "attribute")
    )
    return Gaps(
        n_cups=int(cups),
        not_tasted={code: int(cups - own[code]) for code in sorted(own)},
        skipped={(code, name): int(short) for code, name, short in skipped.iter_rows()},
    )
