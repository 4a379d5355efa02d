"""The range that an axis shows."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

import polars as pl


@dataclass(frozen=True, slots=True)
class Domain:
    """Both ends of an axis, in the unit of the quantity."""

    low: float
    high: float

    @property
    def decimals(self) -> int:
        """Decimal places that tell about six ticks apart."""
        return max(0, math.ceil(-math.log10((self.high - self.low) / 6)))


FENCE_IQRS = 4.0
FEWEST_FOR_FENCE = 8


def fence(values: pl.Series) -> Domain:
    """Limits beyond which a value is left off an axis: four interquartile ranges outside the quartiles.

    A mistyped unit must not squeeze every other brew into a corner. With under eight values, or half of them equal,
    the limits are the values' own. Quartiles by linear interpolation.

    >>> fence(pl.Series([18.0, 19.0, 20.0, 20.0, 21.0, 21.0, 22.0, 23.0, 0.2]))
    Domain(low=11.0, high=29.0)
    """
    known = values.drop_nulls()
    if known.is_empty():
        return Domain(0.0, 0.0)
    low, high = (float(known.quantile(q, interpolation="linear") or 0.0) for q in (0.25, 0.75))
    if known.len() < FEWEST_FOR_FENCE or high <= low:
        return Domain(float(known.to_numpy().min()), float(known.to_numpy().max()))
    reach = FENCE_IQRS * (high - low)
    return Domain(low - reach, high + reach)


def inside_fence(name: str, values: pl.Series) -> pl.Expr:
    """Whether a column's value belongs on the axis that `values` make."""
    limits = fence(values)
    return pl.col(name).is_between(limits.low, limits.high)


def around(values: Iterable[float | None], *, least: float, pad: float = 0.06, floor: float | None = None) -> Domain:
    """The range of the known values with a little air, at least `least` wide, not below `floor`.

    >>> around([18.0, 22.0, None], least=1.0, pad=0.25)
    Domain(low=17.0, high=23.0)
    >>> around([], least=2.0)
    Domain(low=-1.0, high=1.0)
    """
    known = [value for value in values if value is not None and math.isfinite(value)] or [0.0]
    low, high = min(known), max(known)
    wide = max((high - low) * (1 + 2 * pad), least)
    middle = (low + high) / 2
    start, end = middle - wide / 2, middle + wide / 2
    if floor is not None and start < floor:
        start = floor
    return Domain(round(start, 4), round(end, 4))
