"""Which settings were never brewed together, and how many brews there would bring two factors apart."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analysis.diagnostics.collinearity import correlation
from analysis.effects.fit import Floats

LOW, HIGH = 0.1, 0.9
"""Settings to brew at: these quantiles of what was brewed, so that the tries stay inside what the lab already uses."""
FEW = 0.1
"""A corner is empty with fewer than this share of the brews; even ones would hold a quarter each."""
MOST_TRIED = 12
APART = 0.7
"""Two factors are apart when their correlation is at most this (Dormann et al. 2013, Ecography 36:27)."""


@dataclass(frozen=True, slots=True)
class Corner:
    """Settings of two factors, in their units, with the brews already nearer to this corner than to another."""

    first: float
    second: float
    n_brews: int


@dataclass(frozen=True, slots=True)
class Remedy:
    """The empty corners, and the brews to add in each until the factors are apart (None: more than `MOST_TRIED`)."""

    corners: tuple[Corner, ...]
    brews_each: int | None


def find_remedy(first: Floats, second: Floats) -> Remedy:
    """Empty corners of two factors as brewed, both (n,); where none is empty, the two against the correlation."""
    sides = [_sides(values) for values in (first, second)]
    above = [values > (low + high) / 2 for values, (low, high) in zip((first, second), sides, strict=True)]
    corners = [
        Corner(sides[0][a], sides[1][b], int(np.sum((above[0] == bool(a)) & (above[1] == bool(b)))))
        for a in (0, 1)
        for b in (0, 1)
    ]
    together = correlation(first - first.mean(), second - second.mean())
    across = [corners[1], corners[2]] if together > 0 else [corners[0], corners[3]]
    empty = tuple(corner for corner in across if corner.n_brews < FEW * first.size) or tuple(across)
    return Remedy(empty, _brews_each(first, second, empty))


def _sides(values: Floats) -> tuple[float, float]:
    """A low and a high setting that were brewed; the ends when these coincide."""
    low, high = (float(q) for q in np.quantile(values, [LOW, HIGH], method="nearest"))
    return (low, high) if low < high else (float(values.min()), float(values.max()))


def _brews_each(first: Floats, second: Floats, corners: tuple[Corner, ...]) -> int | None:
    """Fewest brews in each of these corners that bring the correlation to `APART` or under."""
    for n_more in range(1, MOST_TRIED + 1):
        a = np.concatenate([first, np.repeat([corner.first for corner in corners], n_more)])
        b = np.concatenate([second, np.repeat([corner.second for corner in corners], n_more)])
        if abs(correlation(a - a.mean(), b - b.mean())) <= APART:
            return n_more
    return None
