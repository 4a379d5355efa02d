"""Settings that land in the window: a grid inside the region brewed, the likeliest first."""

from __future__ import annotations

import math
from collections.abc import Mapping

import numpy as np
import polars as pl

from analysis.effects.factors import FACTORS
from analysis.mixed.arrays import Floats, Ints
from analysis.prediction.landing import DRAWS, DRAWS_OF_MANY, Chance, chance_inside
from analysis.prediction.models import RecipeModels
from analysis.prediction.region import Region, inside
from analysis.prediction.request import Window
from analysis.prediction.result import Found
from analysis.words import listed
from schemas.problem import ProblemError

LEVELS = {1: 60, 2: 31, 3: 21, 4: 11}
"""Most levels of a factor, by the number of factors searched."""
BEST = 5
APART = 0.25
"""Settings closer than this share of every factor's range count as one."""
FOUND_COLUMNS = (
    "chance",
    "chance_low",
    "chance_high",
    "extraction_yield_pct",
    "cup_tds_pct",
)
"""Chance (a share) with its 95 % interval, and what is expected."""


def find_settings(
    models: RecipeModels, held: Mapping[str, float], window: Window, *, least_chance: float, rng: np.random.Generator
) -> Found:
    """Try a grid over the factors that are not in `held`, inside the region brewed; ProblemError where none is free."""
    grid = settings_grid(models.region, held)
    keep = inside(models.region, grid)
    grid = {name: values[keep] for name, values in grid.items()}
    n_tried = int(keep.sum())
    if not n_tried:
        raise ProblemError(
            "No setting was brewed near what is held fixed. Hold fewer settings, or nearer to what was brewed."
        )
    joint = models.joint(grid)
    rough = chance_inside(joint, window, rng=rng, draws=DRAWS_OF_MANY)
    best = _apart(models.region, grid, rough.value)
    shown = {name: values[best] for name, values in grid.items()}
    sure = chance_inside(models.joint(shown), window, rng=rng, draws=DRAWS)
    lands = rough.value >= least_chance
    lands[best] = sure.value >= least_chance
    return Found(
        _table(shown, sure, joint.value[:, best]),
        n_tried,
        int(lands.sum()),
        {name: (float(grid[name][lands].min()), float(grid[name][lands].max())) for name in grid if lands.any()},
    )


def settings_grid(region: Region, held: Mapping[str, float], *, levels: int | None = None) -> dict[str, Floats]:
    """All combinations of round settings of the factors not held, (m,) by factor; held ones stand still."""
    free = [name for name in region.factors if name not in held]
    if not free:
        raise ProblemError("Every factor is held by --at, so there is nothing to search; leave one out.")
    if len(free) > max(LEVELS):
        raise ProblemError(
            f"{listed(free)} are {len(free)} settings to search, and {max(LEVELS)} are the most: hold some with --at."
        )
    axes = [_levels(region, name, levels or LEVELS[len(free)]) for name in free]
    meshed = dict(zip(free, (mesh.ravel() for mesh in np.meshgrid(*axes, indexing="ij")), strict=True))
    m = next(iter(meshed.values())).size
    return {name: meshed[name] if name in meshed else np.full(m, float(held[name])) for name in region.factors}


def _levels(region: Region, name: str, most: int) -> Floats:
    """Round settings across the range brewed: multiples of 1, 2 or 5 times a power of ten."""
    k = region.factors.index(name)
    low, high = region.low[k], region.low[k] + region.width[k] * region.points[:, k].max()
    if FACTORS[name].is_yes_no or high == low:
        return np.unique(np.array([low, high]))
    step = round_step((high - low) / (most - 1))
    first, last = math.ceil(low / step - 1e-9), math.floor(high / step + 1e-9)
    return np.round(np.arange(first, last + 1) * step, 10)


def round_step(width: float) -> float:
    """The smallest of 1, 2, 5 times a power of ten that is at least `width`.

    >>> round_step(0.03), round_step(0.13), round_step(1.0)
    (0.05, 0.2, 1.0)
    """
    power = 10.0 ** math.floor(math.log10(width) + 1e-12)
    return float(next(f"{factor * power:.10g}" for factor in (1, 2, 5, 10) if factor * power >= width * (1 - 1e-9)))


def _apart(region: Region, grid: Mapping[str, Floats], chance: Floats) -> Ints:
    """Places of the best settings that lie apart from each other."""
    scaled = region.scaled(grid)
    kept: list[int] = []
    for place in np.argsort(-chance, kind="stable"):
        if all(np.max(np.abs(scaled[place] - scaled[other])) > APART for other in kept):
            kept.append(int(place))
        if len(kept) == BEST:
            break
    return np.array(kept, dtype=np.int64)


def _table(settings: Mapping[str, Floats], chance: Chance, value: Floats) -> pl.DataFrame:
    columns = dict(zip(FOUND_COLUMNS, (chance.value, chance.low, chance.high, value[0], value[1]), strict=True))
    return pl.DataFrame({**settings, **columns}).sort("chance", descending=True, maintain_order=True)
