"""How far each input moves a result: `analysis.uncertainty` for the yield, and what it lacks by hand here."""

from __future__ import annotations

from analysis.extraction import cup_tds_pct, dry_dose_g
from analysis.measurement.measured import MeasuredBrew
from analysis.uncertainty import Sensitivities, immersion_sensitivities, percolation_sensitivities

NO_BYPASS_BEVERAGE_G = 1.0
"""Stands in for a beverage that does not count: its slope is zero."""


def yield_slopes(brew: MeasuredBrew) -> dict[str, float]:
    """Points of extraction yield per unit of each input, by the brew's mass balance."""
    x = brew.inputs()
    read_after = float(brew.reads_bypass)
    included = float(brew.bypass_included and brew.has_bypass)
    if brew.balance == "percolation":
        slopes = percolation_sensitivities(
            tds_pct=x["TDS"],
            dose_g=x["dose"],
            beverage_g=x["beverage"],
            bypass_g=x["bypass"],
            bypass_included=included,
            read_after_bypass=read_after,
        )
    else:
        slopes = immersion_sensitivities(
            tds_pct=x["TDS"],
            dose_g=x["dose"],
            water_g=x["water"],
            evaporated_g=x["evaporated"],
            beverage_g=x["beverage"] if read_after else NO_BYPASS_BEVERAGE_G,
            bypass_g=x["bypass"],
            bypass_included=included if read_after else 0.0,
            read_after_bypass=read_after,
        )
    return _by_input(slopes)


def _by_input(slopes: Sensitivities[float]) -> dict[str, float]:
    return {
        "TDS": slopes.tds,
        "dose": slopes.dose,
        "beverage": slopes.beverage,
        "water": slopes.water,
        "evaporated": slopes.evaporated,
        "bypass": slopes.bypass,
        "moisture": 0.0,
    }


def dry_yield_slopes(brew: MeasuredBrew, *, yield_pct: float) -> dict[str, float]:
    """Slopes of the yield on the dry dose, `yield_pct / (1 - moisture / 100)`; `yield_pct` is on the dose as weighed.

    The dry share of a dose is what is left of one gram.
    """
    moisture_pct = brew.inputs()["moisture"]
    dry_share = dry_dose_g(dose_g=1.0, moisture_pct=moisture_pct)
    slopes = {name: slope / dry_share for name, slope in yield_slopes(brew).items()}
    slopes["moisture"] = yield_pct / (100 * dry_share**2)
    return slopes


def cup_strength_slopes(brew: MeasuredBrew) -> dict[str, float]:
    """Slopes of the strength as served: `t M / (M + B)` where bypass came after the reading, else the reading itself.

    With `b` the beverage as weighed and i = 1 if it holds the bypass, `M = b - i B` and `M + B = b + (1 - i) B`.
    """
    x = brew.inputs()
    slopes = dict.fromkeys(x, 0.0)
    if not brew.has_bypass or brew.beverage is None or brew.read_after_bypass:
        return slopes | {"TDS": 1.0}
    included = float(brew.bypass_included)
    before_g = x["beverage"] - included * x["bypass"]
    served_g = before_g + x["bypass"]
    per_unit = x["TDS"] / served_g**2
    return slopes | {
        "TDS": cup_tds_pct(tds_pct=1.0, beverage_g=before_g, bypass_g=x["bypass"]),
        "beverage": per_unit * x["bypass"],
        "bypass": -per_unit * x["beverage"],
    }
