"""The range that an axis shows."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Domain:
    """Both ends of an axis, in the unit of the quantity."""

    low: float
    high: float

    @property
    def decimals(self) -> int:
        """Decimal places that tell about six ticks apart."""
        return max(0, math.ceil(-math.log10((self.high - self.low) / 6)))


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
