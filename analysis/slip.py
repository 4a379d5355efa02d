"""Which quantity of a brew is the likely slip when its yield is beyond reason."""

from __future__ import annotations

from dataclasses import dataclass

from schemas.columns import COLUMNS
from schemas.methods import METHOD_WORDS

STRENGTH_PCT = {"espresso": (2.0, 22.0), "pour_over": (0.5, 3.0), "batch_brew": (0.5, 3.0)}
OTHER_STRENGTH_PCT = (0.5, 12.0)
MOST_PER_DOSE = {"espresso": 10.0}
OTHER_MOST_PER_DOSE = 30.0
"""Grams of beverage (percolation) or water (immersion) per gram of dose; common practice, no source."""


@dataclass(frozen=True)
class Slip:
    """The column to look at first, its value, and a sentence on it; no sentence where nothing is out of its range."""

    column: str
    value: float
    sentence: str = ""


def likely_slip(*, method: str | None, dose_g: float, mass_column: str, mass_g: float, strength_pct: float) -> Slip:
    """The quantity that is the most times beyond its plausible range; the strength where none is.

    `mass_column` names the mass that the brew's balance needs, `mass_g` is its value.
    """
    strongest = STRENGTH_PCT.get(method or "", OTHER_STRENGTH_PCT)[1]
    smallest_dose_g = (COLUMNS["dose_g"].usual or (0.0, 0.0))[0]
    per_dose = mass_g / dose_g
    beyond = [
        (strength_pct / strongest, Slip("tds_pct", strength_pct, _strong(strength_pct, strongest, method))),
        (
            per_dose / MOST_PER_DOSE.get(method or "", OTHER_MOST_PER_DOSE),
            Slip(mass_column, mass_g, f"{mass_column} {mass_g:g} g is {round(per_dose, 1):g} times the dose."),
        ),
        (smallest_dose_g / dose_g, Slip("dose_g", dose_g, f"dose_g is only {dose_g:g} g.")),
    ]
    times, slip = max(beyond, key=lambda one: one[0])
    return slip if times > 1 else Slip("tds_pct", strength_pct)


def _strong(strength_pct: float, strongest: float, method: str | None) -> str:
    brews = METHOD_WORDS.get(method or "", "such a brew")
    return f"A strength of {round(strength_pct, 3):g} % is over {strongest:g} %, about the most for {brews}."
