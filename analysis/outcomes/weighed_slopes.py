"""How far an error of one weighing, or of one reading of a factor, moves a column of the facts.

First order, by hand from the mass balances of `analysis.extraction`: a yield is a product of masses and strength, so
its slope on a mass is the yield over that mass.
"""

from __future__ import annotations

import numpy as np
import polars as pl
from numpy.typing import NDArray

Floats = NDArray[np.float64]
YIELDS = ("extraction_yield_pct", "extraction_yield_dry_pct")
WEIGHED = ("dose_g", "beverage_g", "water_g", "bypass_g", "evaporated_g")
RATIOS = {
    "beverage_ratio": ("beverage_g",),
    "water_ratio": ("water_g",),
    "total_water_ratio": ("water_g", "bypass_g"),
}
"""Masses over the dose."""


def weighed_slopes(brews: pl.DataFrame, column: str) -> dict[str, Floats]:
    """Change of `column` for one unit more of each measured quantity, shape (n,) each; nothing where none counts.

    `brews` holds facts with the masses that `column` is made from. A column that is measured as it stands, such as the
    water temperature, has a slope of 1 on itself.
    """
    dose = _values(brews, "dose_g")
    if column in YIELDS:
        return {"dose_g": -_values(brews, column) / dose, **_dissolved(brews, _values(brews, column))}
    if column == "dissolved_g":
        return _dissolved(brews, _values(brews, column))
    if column in RATIOS:
        return {"dose_g": -_values(brews, column) / dose, **dict.fromkeys(RATIOS[column], 1 / dose)}
    if column in ("retained_g", "retained_ratio"):
        return _retained(brews, column)
    if column in ("tds_pct", "cup_tds_pct"):
        return {}
    return {column: np.ones(brews.height)}


def _dissolved(brews: pl.DataFrame, value: Floats) -> dict[str, Floats]:
    """Slopes on the liquid that the balance counts: beverage, or the water that stayed."""
    percolation = (brews["balance_used"] == "percolation").fill_null(value=False).to_numpy()
    dose = _values(brews, "dose_g")
    after = brews["bypass_before_reading"].fill_null(value=False).to_numpy().astype(bool)
    bypass = np.where(after, _filled(brews, "bypass_g"), 0.0)
    beverage = _filled(brews, "beverage_ratio") * dose + bypass
    water = _filled(brews, "water_ratio") * dose - _filled(brews, "evaporated_g")
    return {
        "beverage_g": np.where(percolation, _over(value, beverage), 0.0),
        "water_g": np.where(percolation, 0.0, _over(value, water)),
        "evaporated_g": np.where(percolation, 0.0, -_over(value, water)),
    }


def _retained(brews: pl.DataFrame, column: str) -> dict[str, Floats]:
    """Slopes of what stays in the bed: water less evaporated less the water of the beverage."""
    of_water = 1 - _filled(brews, "tds_pct") / 100
    ones = np.ones(brews.height)
    slopes = {"water_g": ones, "evaporated_g": -ones, "beverage_g": -of_water}
    if column == "retained_g":
        return slopes
    dose = _values(brews, "dose_g")
    per_dose = {name: slope / dose for name, slope in slopes.items()}
    return {"dose_g": -_values(brews, column) / dose, **per_dose}


def _values(brews: pl.DataFrame, column: str) -> Floats:
    return brews[column].cast(pl.Float64).to_numpy()


def _filled(brews: pl.DataFrame, column: str) -> Floats:
    return brews[column].cast(pl.Float64).fill_null(0.0).to_numpy()


def _over(value: Floats, mass: Floats) -> Floats:
    return np.divide(value, mass, out=np.zeros_like(value), where=mass > 0)
