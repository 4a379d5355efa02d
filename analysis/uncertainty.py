"""How the uncertainty of each measured input reaches the extraction yield: first order, inputs independent.

Law of propagation of JCGM 100:2008, 5.1.2. Sensitivities are derived by hand from the two mass balances in
`analysis.extraction`. `bypass_included` and `read_after_bypass` are 1 or 0; strengths in percent, masses in grams.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Generic

from analysis.number import Number


@dataclass(frozen=True, slots=True)
class Sensitivities(Generic[Number]):
    """Change of the yield, in points, for one unit of each input: per % of `tds_pct`, per g of each mass.

    `beverage` is the beverage as weighed, with the bypass if it was weighed in.
    """

    tds: Number
    dose: Number
    beverage: Number
    water: Number
    evaporated: Number
    bypass: Number


def percolation_sensitivities(
    *,
    tds_pct: Number,
    dose_g: Number,
    beverage_g: Number,
    bypass_g: Number,
    bypass_included: Number,
    read_after_bypass: Number,
) -> Sensitivities[Number]:
    """Slopes of `tds_pct (beverage_g + (r - i) bypass_g) / dose_g`: bypass weighed in and read in cancels out."""
    bypass_counts = read_after_bypass - bypass_included
    liquid_g = beverage_g + bypass_counts * bypass_g
    none = 0 * dose_g
    return Sensitivities(
        tds=liquid_g / dose_g,
        dose=-1 * tds_pct * liquid_g / (dose_g * dose_g),
        beverage=tds_pct / dose_g,
        water=none,
        evaporated=none,
        bypass=bypass_counts * tds_pct / dose_g,
    )


def immersion_sensitivities(
    *,
    tds_pct: Number,
    dose_g: Number,
    water_g: Number,
    evaporated_g: Number,
    beverage_g: Number,
    bypass_g: Number,
    bypass_included: Number,
    read_after_bypass: Number,
) -> Sensitivities[Number]:
    """Slopes of `100 (W - V) t0 / (1 - t0) / D`, `t0 = t (1 + r B / M)`, `M = beverage_g - i B`.

    Without bypass in the reading any positive number serves as `beverage_g`: its slope is zero.
    """
    before_bypass_g = beverage_g - bypass_included * bypass_g
    dilution = 1 + read_after_bypass * bypass_g / before_bypass_g
    undiluted_pct = tds_pct * dilution
    liquid_share = undiluted_pct / (100 - undiluted_pct)
    water_g = water_g - evaporated_g
    per_undiluted = 100 * water_g / dose_g * 100 / ((100 - undiluted_pct) * (100 - undiluted_pct))
    per_dilution = per_undiluted * tds_pct * read_after_bypass / (before_bypass_g * before_bypass_g)
    per_water = 100 * liquid_share / dose_g
    return Sensitivities(
        tds=per_undiluted * dilution,
        dose=-1 * per_water * water_g / dose_g,
        beverage=-1 * per_dilution * bypass_g,
        water=per_water,
        evaporated=-1 * per_water,
        bypass=per_dilution * beverage_g,
    )


def propagated_variance(slopes: Sensitivities[Number], u: Sensitivities[Number]) -> Number:
    """Variance of the yield, in points squared; `u` holds the standard uncertainty of each input in its own unit."""
    parts = (
        slopes.tds * u.tds,
        slopes.dose * u.dose,
        slopes.beverage * u.beverage,
        slopes.water * u.water,
        slopes.evaporated * u.evaporated,
        slopes.bypass * u.bypass,
    )
    first, *rest = (part * part for part in parts)
    total = first
    for part in rest:
        total = total + part
    return total


def instrument_variance(*, standard_uncertainty: Number, resolution: Number) -> Number:
    """What one instrument adds to every value it reads: what is left of calibration, and its display's step.

    A display step is uniform over its width: variance `resolution^2 / 12` (JCGM 100:2008, 4.3.7).
    """
    return standard_uncertainty * standard_uncertainty + resolution * resolution / 12


def weighing_variance(*, standard_uncertainty: Number, resolution: Number) -> Number:
    """What one weighing scale adds to a mass: its display is read twice, for tare and for load.

    >>> round(weighing_variance(standard_uncertainty=0.0, resolution=0.6), 3)
    0.06
    """
    return standard_uncertainty * standard_uncertainty + 2 * resolution * resolution / 12
