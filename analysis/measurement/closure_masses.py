"""The weights of one brew, and what they say once one of them is replaced."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

from analysis import extraction
from analysis.measurement.closure_residuals import mass_residual_g

IN_OR_OUT = {"beverage_g": -1, "water_g": 1, "spent_wet_g": -1, "dose_g": 1}
"""Whether a mass goes in (1) or comes out (-1); the order in which explanations are listed."""


@dataclass(frozen=True, slots=True)
class Masses:
    """Weights of one brew in g; `yield_pct` and `strength` (undiluted, as a share) null where not known.

    `added_g` is the bypass that the beverage contains.
    """

    dose_g: float
    water_g: float
    beverage_g: float
    spent_wet_g: float | None
    evaporated_g: float
    added_g: float
    balance: str | None
    yield_pct: float | None
    strength: float | None

    @property
    def before_bypass_g(self) -> float:
        """The beverage without the bypass in it."""
        return self.beverage_g - self.added_g

    @property
    def residual_g(self) -> float | None:
        """In less out; null without spent grounds."""
        if self.spent_wet_g is None:
            return None
        return mass_residual_g(
            dose_g=self.dose_g,
            water_g=self.water_g,
            evaporated_g=self.evaporated_g,
            beverage_g=self.before_bypass_g,
            spent_wet_g=self.spent_wet_g,
        )

    @property
    def left(self) -> float:
        """Liquid left behind per gram of dose, whatever is dissolved in it."""
        return (self.water_g - self.evaporated_g - self.before_bypass_g) / self.dose_g

    @property
    def retained(self) -> float | None:
        """Water left behind per gram of dose; null without a strength."""
        if self.strength is None:
            return None
        kept_g = extraction.retained_g(
            water_g=self.water_g,
            evaporated_g=self.evaporated_g,
            beverage_g=self.before_bypass_g,
            tds_pct=100 * self.strength,
        )
        return extraction.mass_ratio(mass_g=kept_g, dose_g=self.dose_g)

    def weight(self, column: str) -> float | None:
        """One of the weights of `IN_OR_OUT`."""
        value: float | None = getattr(self, column)
        return value

    def replaced(self, values: Mapping[str, float]) -> Masses | None:
        """The same brew with other weights, its yield with them; null where nothing would be left."""
        other = replace(
            self,
            yield_pct=None,
            dose_g=values.get("dose_g", self.dose_g),
            water_g=values.get("water_g", self.water_g),
            beverage_g=values.get("beverage_g", self.beverage_g),
            spent_wet_g=values.get("spent_wet_g", self.spent_wet_g),
        )
        liquid_g = other.before_bypass_g, other.water_g - other.evaporated_g
        if min(other.dose_g, *liquid_g) <= 0 or (other.spent_wet_g is not None and other.spent_wet_g <= 0):
            return None
        if self.yield_pct is None:
            return other
        if self.balance == "percolation":
            liquid = other.before_bypass_g / self.before_bypass_g
        else:
            liquid = (other.water_g - other.evaporated_g) / (self.water_g - self.evaporated_g)
        return replace(other, yield_pct=self.yield_pct * liquid * self.dose_g / other.dose_g)


def masses_of(row: Mapping[str, Any]) -> Masses | None:
    """The weights of a row of `closure_rows`; null where water or beverage is missing or the bypass unclear."""
    before_g, water_g, dose_g = row["before_bypass_g"], row["water_g"], row["dose_g"]
    if before_g is None or water_g is None or before_g <= 0 or water_g - row["evaporated_0_g"] <= 0:
        return None
    retained_g = row["retained_g"]
    water_in_cup_g = None if retained_g is None else water_g - row["evaporated_0_g"] - retained_g
    return Masses(
        dose_g=dose_g,
        water_g=water_g,
        beverage_g=row["beverage_g"],
        spent_wet_g=row["spent_wet_g"],
        evaporated_g=row["evaporated_0_g"],
        added_g=row["beverage_g"] - before_g,
        balance=row["balance_used"],
        yield_pct=row["extraction_yield_pct"],
        strength=None if water_in_cup_g is None else 1 - water_in_cup_g / before_g,
    )
