"""Where a recipe stands in a model: its row of the design, its coffee's levels, and what is new there."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import polars as pl

from analysis.effects.design import Design
from analysis.effects.factors import DIAL
from analysis.mixed.arrays import Floats, Ints


@dataclass(frozen=True)
class Place:
    """m recipes: `x` (m, p) their rows of the design; `level` numbers their coffee, None for one never brewed."""

    x: Floats
    level: int | None


def design_rows(design: Design, brews: pl.DataFrame, settings: Mapping[str, Floats], grinder: str | None) -> Floats:
    """Rows (m, p) of the design at `settings`, (m,) by factor in its unit: centred as the brews' own rows are."""
    m = next(iter(settings.values())).size
    columns = []
    for term in design.terms:
        if term.grinder is not None and term.grinder != grinder:
            columns.append(np.zeros(m))
            continue
        column = np.ones(m)
        for name in term.factors:
            column = column * (settings[name] - _centre(brews, name, term.grinder))
        columns.append(column)
    return np.column_stack(columns)


def _centre(brews: pl.DataFrame, name: str, grinder: str | None) -> float:
    """What a factor was centred at: its mean, a dial's on its own grinder."""
    rows = brews if grinder is None or name != DIAL else brews.filter(pl.col("grinder_id") == grinder)
    return float(rows[name].cast(pl.Float64).to_numpy().mean())


def means(brews: pl.DataFrame, factors: tuple[str, ...], grinder: str | None) -> dict[str, float]:
    """Where a factor that is not set is held: its mean over these brews, a dial's over those on its grinder."""
    return {name: _centre(brews, name, grinder) for name in factors}


def coffee_level(brews: pl.DataFrame, coffee: str | None) -> int | None:
    """The number of a coffee's level: levels are numbered in the order of their names."""
    if coffee is None:
        return None
    names: Ints | list[str] = sorted(brews["coffee_id"].unique())
    return list(names).index(coffee)
