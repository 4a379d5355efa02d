"""Yield and strength over two settings, inside the region brewed only."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import polars as pl

from analysis.known_names import check_known
from analysis.mixed.arrays import Floats
from analysis.prediction.landing import DRAWS_OF_MANY, chance_inside
from analysis.prediction.models import RecipeModels
from analysis.prediction.region import inside
from analysis.prediction.request import STRENGTH, YIELD, Window
from schemas.problem import ProblemError

SIDE = 25


@dataclass(frozen=True)
class Contours:
    """What is expected over two settings.

    `cells`: a row per cell whose middle lies inside the region brewed: `x`, `y` (the middle), `x_start`, `x_end`,
    `y_start`, `y_end` (the sides), extraction_yield_pct, cup_tds_pct, and `chance` (a share; null without a window).
    `held` are the other settings; `coffee` is None for a new one.
    """

    x_factor: str
    y_factor: str
    cells: pl.DataFrame
    held: dict[str, float]
    coffee: str | None
    n_brews: int
    n_coffees: int


def make_contours(
    models: RecipeModels,
    x_factor: str,
    y_factor: str,
    held: Mapping[str, float],
    *,
    window: Window | None = None,
    rng: np.random.Generator,
    side: int = SIDE,
) -> Contours:
    """`side` by `side` cells across the ranges of two factors, those outside the region brewed left out."""
    region = models.region
    for name in (x_factor, y_factor):
        check_known("factor of this model", name, region.factors)
    if x_factor == y_factor:
        raise ProblemError("A contour takes two different factors.")
    edges = {name: _edges(models, name, side) for name in (x_factor, y_factor)}
    x, y = (mesh.ravel() for mesh in np.meshgrid(*(_middles(edges[name]) for name in (x_factor, y_factor))))
    others = {name: value for name, value in held.items() if name not in (x_factor, y_factor)}
    grid = {name: np.full(x.size, others[name]) for name in region.factors if name in others}
    grid |= {x_factor: x, y_factor: y}
    keep = inside(region, grid)
    grid = {name: values[keep] for name, values in grid.items()}
    cells = _cells(models, grid, x_factor, y_factor, window, rng)
    half_x, half_y = ((edges[name][1] - edges[name][0]) / 2 for name in (x_factor, y_factor))
    sides = [
        (pl.col(axis) + shift).alias(f"{axis}_{end}")
        for axis, half in (("x", half_x), ("y", half_y))
        for end, shift in (("start", -half), ("end", half))
    ]
    return Contours(
        x_factor,
        y_factor,
        cells.with_columns(sides),
        others,
        models.coffee,
        models.brews.height,
        models.brews["coffee_id"].n_unique(),
    )


def _edges(models: RecipeModels, name: str, side: int) -> Floats:
    k = models.region.factors.index(name)
    return np.linspace(models.region.low[k], models.region.low[k] + models.region.width[k], side + 1)


def _middles(edges: Floats) -> Floats:
    return (edges[:-1] + edges[1:]) / 2


def _cells(
    models: RecipeModels,
    grid: dict[str, Floats],
    x_factor: str,
    y_factor: str,
    window: Window | None,
    rng: np.random.Generator,
) -> pl.DataFrame:
    """The cells with what is expected in their middle."""
    joint = models.joint(grid)
    chance = None if window is None else chance_inside(joint, window, rng=rng, draws=DRAWS_OF_MANY).value
    return pl.DataFrame(
        {
            "x": grid[x_factor],
            "y": grid[y_factor],
            YIELD: joint.value[0],
            STRENGTH: joint.value[1],
            "chance": pl.Series(chance if chance is not None else [None] * grid[x_factor].size, dtype=pl.Float64),
        }
    )
