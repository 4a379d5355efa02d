"""Extraction arithmetic: the only place where these formulas stand.

Plain operators, so that one function serves floats, numpy arrays and polars expressions alike. Masses in grams,
strengths and yields in percent by mass. Symbols as in the design: M beverage before bypass, B bypass, W water through
the coffee, V evaporated, D dose, t0 undiluted strength.
"""

from __future__ import annotations

from analysis.number import Number


def beverage_before_bypass_g(*, beverage_g: Number, bypass_g: Number, bypass_included: Number) -> Number:
    """M: the weighed beverage less the bypass it contains; `bypass_included` is 1 or 0.

    >>> beverage_before_bypass_g(beverage_g=300.0, bypass_g=80.0, bypass_included=1.0)
    220.0
    """
    return beverage_g - bypass_included * bypass_g


def undiluted_tds_pct(*, tds_pct: Number, beverage_g: Number, bypass_g: Number) -> Number:
    """t0 where the reading was taken after bypass; `beverage_g` is M, before bypass.

    >>> undiluted_tds_pct(tds_pct=1.0, beverage_g=200.0, bypass_g=50.0)
    1.25
    """
    return tds_pct * (beverage_g + bypass_g) / beverage_g


def percolation_dissolved_g(*, beverage_g: Number, tds_pct: Number) -> Number:
    """Dissolved matter where all that counts is in the cup; `beverage_g` is M, `tds_pct` is t0.

    >>> percolation_dissolved_g(beverage_g=40.0, tds_pct=10.0)
    4.0
    """
    return beverage_g * tds_pct / 100


def immersion_dissolved_g(*, water_g: Number, evaporated_g: Number, tds_pct: Number) -> Number:
    """Dissolved matter where the grounds hold liquid as strong as the cup; `tds_pct` is t0, below 100.

    >>> round(immersion_dissolved_g(water_g=225.0, evaporated_g=0.0, tds_pct=1.413079), 6)
    3.225
    """
    return (water_g - evaporated_g) * tds_pct / (100 - tds_pct)


def extraction_yield_pct(*, dissolved_g: Number, dose_g: Number) -> Number:
    """Percent of the dose that is now in solution.

    >>> extraction_yield_pct(dissolved_g=4.0, dose_g=20.0)
    20.0
    """
    return 100 * dissolved_g / dose_g


def dry_dose_g(*, dose_g: Number, moisture_pct: Number) -> Number:
    """The dose without the water it holds.

    >>> dry_dose_g(dose_g=20.0, moisture_pct=5.0)
    19.0
    """
    return dose_g * (1 - moisture_pct / 100)


def mass_ratio(*, mass_g: Number, dose_g: Number) -> Number:
    """Grams per gram of dose: of water, of beverage, of water left behind.

    >>> mass_ratio(mass_g=250.0, dose_g=15.625)
    16.0
    """
    return mass_g / dose_g


def retained_g(*, water_g: Number, evaporated_g: Number, beverage_g: Number, tds_pct: Number) -> Number:
    """Water left behind in the bed: what went in less what boiled off and what is in the cup (M and t0).

    >>> retained_g(water_g=250.0, evaporated_g=0.0, beverage_g=200.0, tds_pct=1.5)
    53.0
    """
    return water_g - evaporated_g - beverage_g * (1 - tds_pct / 100)


def cup_tds_pct(*, tds_pct: Number, beverage_g: Number, bypass_g: Number) -> Number:
    """Strength as served, once bypass is in; `tds_pct` is t0 and `beverage_g` is M.

    >>> cup_tds_pct(tds_pct=1.25, beverage_g=200.0, bypass_g=50.0)
    1.0
    """
    return beverage_g * tds_pct / (beverage_g + bypass_g)
