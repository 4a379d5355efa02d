"""What was measured of one brew, and with what: all that its budget needs.

Masses in grams, strengths in percent by mass, uncertainties as standard uncertainties in the same units. An empty
instrument name means that none was named: nothing is known to be shared with another brew.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from schemas.problem import ProblemError

Balance = Literal["percolation", "immersion"]
INPUTS = ("TDS", "dose", "beverage", "water", "evaporated", "bypass", "moisture")


@dataclass(frozen=True, slots=True)
class ReadingGroup:
    """One brew's readings of strength on one instrument, as percent of dissolved solids.

    `n_repeats` counts what `scatter_pct` is the scatter of: samples as this brew read them where the pool has brews
    with two or more, else readings. `scatter_pct` and `scatter_df` (effective degrees of freedom) are pooled over brews
    by instrument and method, null without any repeats; `pool` names that pool. `standard_uncertainty_pct` is what is
    left of calibration; `correction_u_pct`, where a correction is declared, replaces it. `gain_u` is a relative
    uncertainty of the slope, declared apart, that turns about the reading `gain_about_pct`.
    """

    instrument: str
    n_readings: int
    n_repeats: int
    scatter_pct: float | None
    scatter_df: float
    standard_uncertainty_pct: float | None
    resolution_pct: float | None = 0.0
    correction_u_pct: float | None = None
    gain_u: float = 0.0
    gain_about_pct: float = 0.0
    pool: str = ""

    def __post_init__(self) -> None:
        if not self.n_readings >= self.n_repeats >= 1:
            raise ProblemError(
                f"{self.instrument or 'a nameless instrument'}: {self.n_readings} readings from {self.n_repeats} "
                "repeats. A brew needs at least one reading, and no more samples than readings."
            )


@dataclass(frozen=True, slots=True)
class Scale:
    """A weighing scale: what is left of calibration, its display step, and a relative slope error declared apart."""

    instrument: str
    standard_uncertainty_g: float | None
    resolution_g: float | None = 0.0
    gain_u: float = 0.0


@dataclass(frozen=True, slots=True)
class Mass:
    """A weighed mass. `scale` is the weighing scale, or the lab's default standard uncertainty in g for this mass."""

    mass_g: float
    scale: Scale | float = 0.0


@dataclass(frozen=True, slots=True)
class MeasuredBrew:
    """One brew's readings and masses; `tds_pct` is the mean of all its readings.

    Percolation needs `beverage`, immersion `water` (and `beverage` if the reading came after bypass). `moisture_u_pct`
    counts for yields on the dry dose only.
    """

    balance: Balance
    tds_pct: float
    readings: tuple[ReadingGroup, ...]
    dose: Mass
    beverage: Mass | None = None
    water: Mass | None = None
    evaporated: Mass | None = None
    bypass: Mass | None = None
    bypass_included: bool = False
    read_after_bypass: bool = False
    moisture_pct: float | None = None
    moisture_u_pct: float = 0.0

    def __post_init__(self) -> None:
        needs = {
            "water": self.balance == "immersion" and self.water is None,
            "beverage": (self.balance == "percolation" or self.reads_bypass) and self.beverage is None,
        }
        lacking = [name for name, lacks in needs.items() if lacks]
        if lacking:
            raise ProblemError(f"A brew on the {self.balance} balance needs the mass of its {lacking[0]}. Weigh it.")
        if not self.readings:
            raise ProblemError("A brew without readings of strength has no yield. Take at least one reading.")

    @property
    def has_bypass(self) -> bool:
        """Whether any water was added to the finished beverage."""
        return self.bypass is not None and self.bypass.mass_g > 0

    @property
    def reads_bypass(self) -> bool:
        """Whether the reading was of the beverage with bypass in it."""
        return self.read_after_bypass and self.has_bypass

    def masses(self) -> dict[str, Mass]:
        """The masses that were weighed, by name."""
        weighed = {
            "dose": self.dose,
            "beverage": self.beverage,
            "water": self.water,
            "evaporated": self.evaporated,
            "bypass": self.bypass,
        }
        return {name: mass for name, mass in weighed.items() if mass is not None}

    def inputs(self) -> dict[str, float]:
        """Every input of a result by name (`INPUTS`); what was not weighed is 0."""
        weighed = {name: mass.mass_g for name, mass in self.masses().items()}
        return dict.fromkeys(INPUTS, 0.0) | weighed | {"TDS": self.tds_pct, "moisture": self.moisture_pct or 0.0}
