"""Who reads high and who reads low: each reader of a gauge study against the others, on the brews they share."""

from __future__ import annotations

import math
from dataclasses import dataclass

import polars as pl
from scipy import stats

from analysis.words import count, number, signed

FEWEST_BREWS = 3
LEVEL = 0.95
DIGITS = 3


@dataclass(frozen=True, slots=True)
class ReaderGap:
    """How far a reader reads above the others in % TDS, with its 95 % interval, over `n_brews`."""

    reader: str
    gap_pct: float
    low_pct: float
    high_pct: float
    n_brews: int

    @property
    def sentence(self) -> str:
        """The gap in words, with n and interval."""
        basis = (
            f"95 % interval {signed(self.low_pct, DIGITS)} to {signed(self.high_pct, DIGITS)}; "
            f"{count(self.n_brews, 'brew')}"
        )
        if self.low_pct <= 0 <= self.high_pct:
            return (
                f"{self.reader}: no gap shown to the other readers, {signed(self.gap_pct, DIGITS)} % TDS on average "
                f"({basis})."
            )
        side = "higher" if self.gap_pct > 0 else "lower"
        return (
            f"{self.reader} reads {number(abs(self.gap_pct), DIGITS)} % TDS {side} than the other readers on average "
            f"({basis})."
        )


def reader_gaps(frame: pl.DataFrame) -> tuple[ReaderGap, ...]:
    """Every reader against the mean of the others, the highest first; of two readers only the higher.

    `frame` has brew_id, operator and tds_pct, as for `gauge_study`. Student's t over brews that the reader and
    somebody else read, so that what a reader does from brew to brew is in the interval; each interval by itself.
    A reader with under three such brews, or whose gap is the same to the last digit in all of them, stays out.
    """
    means = frame.group_by("brew_id", "operator").agg(pl.col("tds_pct").mean())
    total, n = pl.col("tds_pct").sum().over("brew_id"), pl.len().over("brew_id")
    gaps = means.filter(n > 1).with_columns(gap=pl.col("tds_pct") - (total - pl.col("tds_pct")) / (n - 1))
    found = []
    for (reader,), rows in gaps.group_by("operator"):
        spread = rows["gap"].std()
        if rows.height < FEWEST_BREWS or not isinstance(spread, float) or spread < 1e-9:
            continue
        middle = math.fsum(rows["gap"]) / rows.height
        half = float(stats.t.ppf(0.5 + LEVEL / 2, rows.height - 1)) * spread / math.sqrt(rows.height)
        found.append(ReaderGap(str(reader), middle, middle - half, middle + half, rows.height))
    found.sort(key=lambda one: (-one.gap_pct, one.reader))
    return tuple(found[:1] if means["operator"].n_unique() == 2 else found)
