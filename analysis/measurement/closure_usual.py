"""What is usual among brews of one method: median and median absolute deviation, or else common practice."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

import numpy as np
import polars as pl

from analysis.facts.flags.ranges import MOST_DISSOLVED_G_PER_G, RETAINED_G_PER_G, YIELD_PCT
from schemas.methods import BALANCE_OF_METHOD

FEWEST = 8
"""With fewer brews of a method, their own spread judges nothing."""
CUTOFF = 3.5
"""Robust z beyond which a value is an outlier: Iglewicz and Hoaglin (1993), as in the NIST e-Handbook 1.3.5.17."""
NORMAL = 1 / 0.6744897501960817
"""Standard deviations per median absolute deviation, of normal values."""
FEW_CORRECTION = 0.8
"""With n values the spread is too small by (n - 0.8) / n on average (Croux and Rousseeuw, 1992, for n over 9)."""
Basis = Literal["brews", "common practice", "nothing"]


@dataclass(frozen=True, slots=True)
class Usual:
    """Where a quantity usually lies: `middle` and `spread` (robust standard deviation) of `n` brews, and its limits.

    On the basis of common practice `middle` and `spread` are null; on the basis of nothing the limits are, too.
    """

    basis: Basis
    n: int
    middle: float | None
    spread: float | None
    low: float | None
    high: float | None

    def holds(self, value: float | None, *, at_least: float = 0.0) -> bool:
        """Whether a value is within the limits; `at_least` is the least half width they have. Unknown is usual."""
        if value is None or self.low is None or self.high is None:
            return True
        if self.middle is None:
            return self.low <= value <= self.high
        return abs(value - self.middle) <= max(self.high - self.middle, at_least)


@dataclass(frozen=True, slots=True)
class UsualBrew:
    """What is usual of one method: water kept per g of dose, liquid left behind per g of dose, yield in %."""

    retained: Usual
    left: Usual
    yield_pct: Usual


def usual_of(values: Iterable[float], *, otherwise: tuple[float, float] | None) -> Usual:
    """Median and robust spread of eight or more values; with fewer, the range `otherwise`, if there is one.

    >>> found = usual_of([1, 2, 2, 3, 3, 3, 4, 4, 5, 60], otherwise=None)
    >>> found.middle, round(found.spread, 4), round(found.high, 2)
    (3.0, 1.6115, 8.64)
    """
    known = np.array([value for value in values if value is not None and np.isfinite(value)])
    if known.size >= FEWEST:
        middle = float(np.median(known))
        spread = NORMAL * float(np.median(np.abs(known - middle))) * known.size / (known.size - FEW_CORRECTION)
        half = CUTOFF * spread
        return Usual("brews", known.size, middle, spread, middle - half, middle + half)
    if otherwise is None:
        return Usual("nothing", known.size, None, None, None, None)
    return Usual("common practice", known.size, None, None, *otherwise)


def usual_brews(rows: pl.DataFrame) -> dict[str, UsualBrew]:
    """What is usual of every method in `closure_rows`."""
    left = (pl.col("water_g") - pl.col("evaporated_0_g") - pl.col("before_bypass_g")) / pl.col("dose_g")
    rows = rows.with_columns(left=left)
    found = {}
    for (method,), brews in rows.group_by("method"):
        kept = RETAINED_G_PER_G.get(str(method))
        wide = None if kept is None else (kept[0] - MOST_DISSOLVED_G_PER_G, kept[1])
        found[str(method)] = UsualBrew(
            retained=usual_of(brews["retained_ratio"], otherwise=kept),
            left=usual_of(brews["left"], otherwise=wide),
            yield_pct=usual_of(
                brews["extraction_yield_pct"], otherwise=YIELD_PCT if method in BALANCE_OF_METHOD else None
            ),
        )
    return found
