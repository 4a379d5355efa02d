"""What one dish says: its residue less the blank, as a share of the sample."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from analysis.measurement.drying_dishes import Dish
from analysis.uncertainty import weighing_variance


@dataclass(frozen=True, slots=True)
class BlankDish:
    """What blank dishes of one oven run gained on average, in g (a loss is negative), and its standard uncertainty.

    `df` are its degrees of freedom: infinite where the display step gives it, else those of the blanks' own scatter.
    """

    gain_g: float
    u_g: float
    n: int
    df: float = math.inf


@dataclass(frozen=True, slots=True)
class BlankScatter:
    """Variance of the gains of blank dishes within oven runs, in g^2, pooled over the runs of one oven."""

    variance: float
    df: int


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


def blank_scatter(runs: Iterable[Sequence[Dish]]) -> BlankScatter:
    """How far blank dishes of one oven run differ; the two of a single run would say next to nothing."""
    squares, df = [], 0
    for dishes in runs:
        mean = math.fsum(dish.residue_g for dish in dishes) / len(dishes)
        squares += [(dish.residue_g - mean) ** 2 for dish in dishes]
        df += len(dishes) - 1
    return BlankScatter(math.fsum(squares) / df if df else 0.0, df)


def blank_dish(dishes: Sequence[Dish], scatter: BlankScatter) -> BlankDish:
    """The blank correction of one oven run: the mean gain of its blank dishes.

    Its uncertainty is the larger of what the weighings give and what blank dishes of the oven show.
    """
    n = len(dishes)
    mean = math.fsum(dish.residue_g for dish in dishes) / n
    weighing = math.fsum(2 * step_u_g(dish.resolution_g) ** 2 for dish in dishes) / n
    df = scatter.df if scatter.variance > weighing else math.inf
    return BlankDish(mean, math.sqrt(max(weighing, scatter.variance) / n), n, df)


def dish_strength(dish: Dish, blank: BlankDish | None, *, left_g: float) -> DishStrength:
    """Strength of a dish in which `left_g` is left."""
    blank_g = blank.gain_g if blank else 0.0
    tds_pct = net_strength_pct(residue_g=left_g, blank_g=blank_g, sample_g=dish.sample_g)
    residue, sample, empty = _slopes(tds_pct, dish.sample_g)
    return DishStrength(dish, tds_pct, blank, math.hypot(residue, sample, empty) * step_u_g(dish.resolution_g))


def _slopes(tds_pct: float, sample_g: float) -> tuple[float, float, float]:
    """Change of T for one g of Y, S and D."""
    return 100 / sample_g, -tds_pct / sample_g, (tds_pct - 100) / sample_g
