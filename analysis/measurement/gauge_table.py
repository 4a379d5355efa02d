"""The readings of a gauge study: which brew, who read it, what the refractometer showed."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import polars as pl

from analysis.effects.fit import Floats, Ints
from analysis.words import count, listed
from schemas.problem import ProblemError

MOST_NAMED = 3


@dataclass(frozen=True)
class GaugeTable:
    """n readings of b brews by o readers: `tds_pct` (n,) in % TDS, `brew` and `reader` (n,) codes into the names."""

    tds_pct: Floats
    brew: Ints
    reader: Ints
    brews: tuple[str, ...]
    readers: tuple[str, ...]

    @property
    def counts(self) -> Ints:
        """How many readings each reader took of each brew, shape (b, o)."""
        table = np.zeros((len(self.brews), len(self.readers)), dtype=np.int64)
        np.add.at(table, (self.brew, self.reader), 1)
        return table

    @property
    def balanced(self) -> bool:
        """Whether every reader took the same number of readings of every brew."""
        return bool(np.all(self.counts == self.counts[0, 0]))

    def missing_words(self) -> str:
        """What a full table would have on top, in words; empty when nothing is missing."""
        counts = self.counts
        short = int(np.sum(counts.max() - counts))
        if not short:
            return ""
        empty = [f"{self.readers[o]} of {self.brews[b]}" for b, o in np.argwhere(counts == 0)]
        more = [f"{len(empty) - MOST_NAMED} more pairs"] if len(empty) > MOST_NAMED + 1 else []
        pairs = f", among them all by {listed([*empty[:MOST_NAMED], *more] if more else empty)}" if empty else ""
        return f"{count(short, 'reading')} missing of {counts.size * int(counts.max())}{pairs}"


@dataclass(frozen=True)
class StudyReadings:
    """Rows brew_id, operator, tds_pct fit for a gauge study, and what was left out, in words."""

    frame: pl.DataFrame
    left_out: tuple[str, ...]


def study_readings(readings: pl.DataFrame, *, instrument_id: str | None = None) -> StudyReadings:
    """Rows of the readings table whose reader is known (`read_by`), on one instrument, in % TDS, black, not void.

    `reading_scale`, `served_as` and `is_void` count where the frame has them. Brix stays out: it is another unit.
    Readings on several instruments, none of them chosen, raise ProblemError.
    """
    doubts = {
        "without the name of who read it (read_by)": pl.col("read_by").is_null(),
        "in Brix": _says(readings, "reading_scale", "brix"),
        "on a milk drink": _says(readings, "served_as", "milk"),
        "of a void brew": pl.col("is_void") if "is_void" in readings.columns else pl.lit(False),
    }
    rows, left_out = readings, []
    if instrument_id is not None:
        rows = rows.filter(pl.col("instrument_id") == instrument_id)
    for words, doubt in doubts.items():
        kept = rows.filter(~doubt.fill_null(False))
        if kept.height < rows.height:
            left_out.append(f"{count(rows.height - kept.height, 'reading')} {words}")
        rows = kept
    used = rows["instrument_id"].unique().sort()
    if used.len() > 1:
        names = [name if name is not None else "no instrument named" for name in used]
        raise ProblemError(
            f"The readings come from {used.len()} instruments ({listed(names)}); a gauge study is of one. "
            "Choose one; to compare two instruments, ask for their agreement."
        )
    return StudyReadings(rows.select("brew_id", "tds_pct", operator="read_by"), tuple(left_out))


def _says(readings: pl.DataFrame, column: str, word: str) -> pl.Expr:
    return pl.col(column) == word if column in readings.columns else pl.lit(False)


def gauge_table(frame: pl.DataFrame) -> GaugeTable:
    """The study of a frame with columns brew_id, operator (who read) and tds_pct; ProblemError where none is possible.

    Names are sorted, so that the order of rows changes nothing.
    """
    rows = frame.select("brew_id", "operator", "tds_pct").sort("brew_id", "operator", "tds_pct")
    if rows.null_count().sum_horizontal().item() or not rows["tds_pct"].is_finite().all():
        raise ProblemError("A gauge study needs a brew, a reader and a finite reading in every row. Fill them in.")
    brews, readers = rows["brew_id"].unique().sort(), rows["operator"].unique().sort()
    if max(brews.len(), readers.len()) < 2:
        raise ProblemError(
            f"A gauge study needs at least two brews or two readers; here are {count(brews.len(), 'brew')} and "
            f"{count(readers.len(), 'reader')}. `brewtrials gauge plan` writes a run sheet."
        )
    table = GaugeTable(
        rows["tds_pct"].to_numpy().astype(np.float64),
        np.searchsorted(brews.to_numpy(), rows["brew_id"].to_numpy()).astype(np.int64),
        np.searchsorted(readers.to_numpy(), rows["operator"].to_numpy()).astype(np.int64),
        tuple(brews),
        tuple(readers),
    )
    _must_hang_together(table)
    return table


def _must_hang_together(table: GaugeTable) -> None:
    """Every reader must be tied to every other by brews that both read, and something must be left to judge by."""
    tied = table.counts > 0
    reached = np.zeros(len(table.readers), dtype=bool)
    reached[0] = True
    for _ in table.readers:
        reached |= tied[tied[:, reached].any(axis=1)].any(axis=0)
    if not reached.all():
        first = table.readers[int(np.flatnonzero(~reached)[0])]
        raise ProblemError(
            f"{first} and {table.readers[0]} share no brew, directly or through others, so a difference between "
            "readers cannot be told from one between brews. Let every reader read every brew."
        )
    if table.tds_pct.size <= len(table.brews) + len(table.readers) - 1:
        raise ProblemError(
            f"{count(table.tds_pct.size, 'reading')} of {count(len(table.brews), 'brew')} by "
            f"{count(len(table.readers), 'reader')} leave nothing to judge repeatability by. Read every brew again."
        )
