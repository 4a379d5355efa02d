"""Brews whose true weights are known, with one weight spoilt here and there, for the tests of mass closure."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import polars as pl

from schemas.columns import COLUMNS
from schemas.dtypes import frame_schema
from schemas.reports import FACT_COLUMNS

SCHEMA = frame_schema([COLUMNS[name] for name in FACT_COLUMNS])
SCALES = pl.DataFrame(
    {
        "instrument_id": ["bench", "fine"],
        "kind": ["scale", "scale"],
        "resolution": [0.1, 0.01],
        "standard_uncertainty": [0.1, 0.02],
        "unit": ["g", "g"],
    }
)


@dataclass(frozen=True)
class Weights:
    """One brew as it truly was or as it was written down; `t` is its strength as a share of the cup."""

    dose: float
    water: float
    beverage: float
    spent: float | None
    t: float
    method: str = "pour_over"


@dataclass(frozen=True)
class Habit:
    """How brews of one method turn out: means, and the spread from brew to brew."""

    method: str
    dose: float
    water: float
    kept: float
    kept_sd: float
    lost_share: float
    lost_sd: float
    yield_share: float


HABITS = {
    "pour_over": Habit("pour_over", 15.0, 250.0, 2.1, 0.12, 0.012, 0.003, 0.20),
    "espresso": Habit("espresso", 18.0, 62.0, 1.2, 0.10, 0.010, 0.004, 0.20),
    "immersion": Habit("immersion", 18.0, 270.0, 1.9, 0.12, 0.008, 0.003, 0.21),
}


def brewed(habit: Habit, rng: np.random.Generator) -> Weights:
    """A true brew: the bed keeps water and what is dissolved in it, vapour and drops are lost."""
    dose = habit.dose + rng.normal(0, 0.1)
    water = habit.water * (1 + rng.normal(0, 0.01))
    liquid_kept = dose * (habit.kept + rng.normal(0, habit.kept_sd))
    lost = water * max(habit.lost_share + rng.normal(0, habit.lost_sd), 0.0)
    extracted = dose * (habit.yield_share + rng.normal(0, 0.008))
    beverage = water + extracted - lost - liquid_kept
    return Weights(dose, water, beverage, dose - extracted + liquid_kept, extracted / (beverage + lost), habit.method)


def weighed(true: Weights, rng: np.random.Generator, *, u: float = 0.1, step: float = 0.1) -> Weights:
    """The same brew as a scale with this display step and calibration shows it."""

    def shown(mass: float | None) -> float | None:
        if mass is None:
            return None
        return round((mass + rng.normal(0, u) + rng.uniform(-step / 2, step / 2)) / step) * step

    return replace(
        true,
        dose=shown(true.dose),
        water=shown(true.water),
        beverage=shown(true.beverage),
        spent=shown(true.spent),
    )


def facts_of(brews: dict[str, Weights], *, scale: str | None = "bench") -> pl.DataFrame:
    """Facts of these brews, worked out here from the design's formulas, apart from the code."""
    rows = []
    for brew_id, one in brews.items():
        percolation = one.method != "immersion"
        dissolved = one.beverage * one.t if percolation else one.water * one.t / (1 - one.t)
        kept = one.water - one.beverage * (1 - one.t)
        rows.append(
            dict.fromkeys(FACT_COLUMNS)
            | {
                "brew_id": brew_id,
                "method": one.method,
                "scale_id": scale,
                "dose_g": one.dose,
                "water_g": one.water,
                "beverage_g": one.beverage,
                "spent_wet_g": one.spent,
                "is_void": False,
                "tds_pct": 100 * one.t,
                "balance_used": "percolation" if percolation else "immersion",
                "extraction_yield_pct": 100 * dissolved / one.dose,
                "retained_g": kept,
                "retained_ratio": kept / one.dose,
            }
        )
    return pl.DataFrame(rows, schema=SCHEMA)
