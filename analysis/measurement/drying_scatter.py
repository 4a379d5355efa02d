"""How far dishes of one brew scatter beyond their weighings, pooled over brews by oven and method."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from analysis.measurement.drying_strength import DishStrength


@dataclass(frozen=True, slots=True)
class DishScatter:
    """Scatter of single dishes within brews, as shares of the strength (0.01 is 1 %).

    `seen` is the standard deviation found, `weighing` what the display steps of the weighing scale give alone, `beyond`
    what is left of it, 0 or more; `df` the degrees of freedom of `seen`. `of_oven` says that the method had no repeats,
    so that the oven's other methods stand in.
    """

    seen: float
    weighing: float
    df: int
    n_brews: int
    of_oven: bool = False

    @property
    def beyond(self) -> float:
        """Scatter that weighing does not explain; counted beside the weighings, so nothing counts twice."""
        return math.sqrt(max(self.seen**2 - self.weighing**2, 0.0))

    @property
    def beyond_df(self) -> float:
        """Degrees of freedom for `beyond`: its variance is as uncertain as that of `seen`, in the same unit."""
        return self.df * (self.beyond / self.seen) ** 4 if self.beyond > 0 else math.inf


def dish_scatter(
    dried: Mapping[tuple[str, str], Sequence[DishStrength]], methods: Mapping[str, str]
) -> dict[tuple[str, str], DishScatter]:
    """Scatter by oven and method; without a repeat there, by oven; nothing for an oven without any repeat.

    `dried` holds the dry dishes of each brew and oven. Deviations count relative to their brew's strength, so that
    strong and weak brews of one method can be pooled.
    """
    pools: defaultdict[tuple[str, str | None], list[Sequence[DishStrength]]] = defaultdict(list)
    for (brew_id, oven), dishes in dried.items():
        pools[oven, methods[brew_id]].append(dishes)
        pools[oven, None].append(dishes)
    found = {}
    for oven, method in pools:
        if method is None:
            continue
        own = _pool(pools[oven, method], of_oven=False)
        scatter = own or _pool(pools[oven, None], of_oven=True)
        if scatter is not None:
            found[oven, method] = scatter
    return found


def _pool(brews: Sequence[Sequence[DishStrength]], *, of_oven: bool) -> DishScatter | None:
    repeated = [dishes for dishes in brews if len(dishes) > 1]
    df = sum(len(dishes) - 1 for dishes in repeated)
    if df == 0:
        return None
    squares, weighing = [], []
    for dishes in repeated:
        mean = math.fsum(dish.tds_pct for dish in dishes) / len(dishes)
        squares += [((dish.tds_pct - mean) / mean) ** 2 for dish in dishes]
        share = (len(dishes) - 1) / len(dishes)
        weighing += [share * (dish.display_u_pct / mean) ** 2 for dish in dishes]
    return DishScatter(
        seen=math.sqrt(math.fsum(squares) / df),
        weighing=math.sqrt(math.fsum(weighing) / df),
        df=df,
        n_brews=len(repeated),
        of_oven=of_oven,
    )
