"""What one dish says: its residue less the blank, as a share of the sample."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from analysis.measurement.drying_dishes import Dish
from analysis.uncertainty import weighing_variance


@dataclass(frozen=True, slots=True)
class BlankDish:
    """What blank dishes of one oven run gained on average, in g (a loss is negative), and its standard uncertainty."""

    gain_g: float
    u_g: float
    n: int


@dataclass(frozen=True, slots=True)
class DishStrength:
    """The strength that one dish says, in %; `display_u_pct` is what its three weighings' display steps give it."""

    dish: Dish
    tds_pct: float
    blank: BlankDish | None
    display_u_pct: float


def net_strength_pct(*, residue_g: float, blank_g: float, sample_g: float) -> float:
    """Dissolved solids of a dried sample, in % of its mass.

    >>> round(net_strength_pct(residue_g=0.0651, blank_g=0.0001, sample_g=5.0), 6)
    1.3
    """
    return 100 * (residue_g - blank_g) / sample_g


def step_u_g(resolution_g: float | None) -> float:
    """Standard uncertainty of one weighing from the display step: tare and load."""
    return math.sqrt(weighing_variance(standard_uncertainty=0.0, resolution=resolution_g or 0.0))


def blank_dish(dishes: Sequence[Dish]) -> BlankDish:
    """The blank correction of one oven run: the mean gain of its blank dishes.

    Its uncertainty is the larger of what the weighings give and what the blank dishes show (two or more).
    """
    gains = [dish.residue_g for dish in dishes]
    n, mean = len(gains), math.fsum(gains) / len(gains)
    weighing = math.fsum(2 * step_u_g(dish.resolution_g) ** 2 for dish in dishes) / n
    seen = math.fsum((gain - mean) ** 2 for gain in gains) / (n - 1) if n > 1 else 0.0
    return BlankDish(mean, math.sqrt(max(weighing, seen) / n), n)


def dish_strength(dish: Dish, blank: BlankDish | None, *, left_g: float) -> DishStrength:
    """Strength of a dish in which `left_g` is left."""
    blank_g = blank.gain_g if blank else 0.0
    tds_pct = net_strength_pct(residue_g=left_g, blank_g=blank_g, sample_g=dish.sample_g)
    residue, sample, empty = _slopes(tds_pct, dish.sample_g)
    return DishStrength(dish, tds_pct, blank, math.hypot(residue, sample, empty) * step_u_g(dish.resolution_g))


def _slopes(tds_pct: float, sample_g: float) -> tuple[float, float, float]:
    """Change of T for one g of Y, S and D."""
    return 100 / sample_g, -tds_pct / sample_g, (tds_pct - 100) / sample_g
