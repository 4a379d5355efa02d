"""The invented lab: its coffees, kit, people, and the true model behind every brew.

Everything here is made up. Units are in the names; "points" are percentage points of extraction yield.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date

SEED = 20260401
TIMEZONE = "Europe/Vienna"
ALTITUDE_M = 310


@dataclass(frozen=True)
class Coffee:
    """One coffee; `level` is its true yield in points above a method's level."""

    coffee_id: str
    name: str
    origin: str
    process: str
    variety: str
    roast_level: str
    roasted_on: date
    moisture_pct: float | None
    level: float


COFFEES = (
    Coffee("veldra", "Upper Veldra", "Veldra", "washed", "", "light", date(2026, 2, 20), 1.6, 0.8),
    Coffee("ostrin", "Ostrin Ridge", "Ostrin", "washed", "", "light", date(2026, 2, 23), None, 0.3),
    Coffee("tesquil", "Tesquil Natural", "Tesquil", "natural", "", "light", date(2026, 2, 24), 1.9, 0.5),
    Coffee("calmuth", "Calmuth Lower Terrace", "Calmuth", "honey", "", "medium", date(2026, 2, 25), 1.4, -0.2),
    Coffee("pirolo", "Pirolo", "Pirolo, lot of three farms", "natural", "", "medium", date(2026, 2, 25), None, -0.6),
    Coffee("brunnagh", "Brunnagh Dark", "Brunnagh", "washed", "", "dark", date(2026, 2, 26), 1.1, -0.9),
)
COFFEE = {coffee.coffee_id: coffee for coffee in COFFEES}


@dataclass(frozen=True)
class Lot:
    """A roast of a coffee; brews from `first_day` on use it. `level` in points, on top of the coffee's."""

    lot_id: str
    coffee_id: str
    roasted_on: date
    moisture_pct: float | None
    frozen_days: int | None
    first_day: date
    level: float


LOTS = (
    Lot("veldra-a", "veldra", date(2026, 2, 20), 1.6, None, date(2026, 1, 1), 0.0),
    Lot("veldra-b", "veldra", date(2026, 3, 25), 1.8, None, date(2026, 4, 1), 0.1),
    Lot("calmuth-a", "calmuth", date(2026, 2, 25), 1.4, None, date(2026, 1, 1), 0.0),
    Lot("calmuth-b", "calmuth", date(2026, 3, 23), 1.3, 7, date(2026, 4, 1), -0.1),
)


@dataclass(frozen=True)
class Grinder:
    """A grinder; `places` is how many decimals its dial is written with, -1 for a compound dial."""

    grinder_id: str
    name: str
    finer_is: str
    step_um: float | None
    dial: str
    places: int


GRINDERS = (
    Grinder("plover", "Plover, at the bar", "lower", 25.0, "", 2),
    Grinder("curlew", "Curlew, hand mill", "lower", 60.0, "10.5", -1),
    Grinder("sandpiper", "Sandpiper, filter bench", "higher", None, "", 0),
)
GRINDER = {grinder.grinder_id: grinder for grinder in GRINDERS}


@dataclass(frozen=True)
class Instrument:
    """A refractometer (units %) or scale (units g); its true bias is drawn once from `standard_uncertainty`."""

    instrument_id: str
    kind: str
    resolution: float
    standard_uncertainty: float
    unit: str
    repeatability: float
    repeatability_espresso: float = 0.0
    drift_per_week: float = 0.0


INSTRUMENTS = (
    Instrument("lens-1", "refractometer", 0.01, 0.015, "%", 0.008, 0.03),
    Instrument("lens-2", "refractometer", 0.01, 0.02, "%", 0.012, 0.045, drift_per_week=0.005),
    Instrument("scale-bar", "scale", 0.1, 0.05, "g", 0.03),
    Instrument("scale-bench", "scale", 1.0, 0.3, "g", 0.2),
)
FOR_DRYING = (
    Instrument("scale-fine", "scale", 0.001, 0.0005, "g", 0.0003),
    Instrument("oven-1", "oven", 1.0, 1.0, "C", 0.0),
)
"""What samples are dried and weighed with; what is off in the weighing scale cancels in differences of its weights."""
INSTRUMENT = {instrument.instrument_id: instrument for instrument in INSTRUMENTS}

VOLATILE_LOSS_PCT, VOLATILE_LOSS_U_PCT = 0.3, 0.3
"""What the oven drives off besides water, in % of what is left, and the standard uncertainty declared for it."""

OPERATORS = ("Mirel", "Tovan", "Jonsa", "Perrik")
OPERATOR_LEVEL = {"Mirel": 0.12, "Tovan": -0.12, "Jonsa": 0.0, "Perrik": 0.0}
"""Points. Perrik channels more; an average level of his own keeps people and channeling apart."""
CHANNELING_PRONE = "Perrik"


@dataclass(frozen=True)
class Model:
    """The true yield of one method, in points.

    Grind enters as `grind` per unit finer than the coffee's reference plus `grind_curve` per unit squared; the
    unit is `grind_unit` (um or dial steps). The ratio (g/g) is the one named by `ratio_column`.
    """

    method: str
    level: float
    grind_unit: str
    grind: float
    grind_curve: float
    temp: float
    temp_zero_c: float
    ratio_column: str
    ratio: float
    ratio_zero: float
    slight: float
    severe: float
    drift_per_brew: float
    noise: float
    retained: float
    channel_logit: tuple[float, float, float] | None = None
    dose_g: float = 15.0
    coffees: tuple[str, ...] = ()
    references: dict[str, dict[str, float]] = field(default_factory=dict)


ESPRESSO = Model(
    "espresso", 20.0, "um", 0.024, -0.00013, 0.12, 92.5, "beverage_ratio", 3.0, 2.05,
    slight=-1.4, severe=-2.4, drift_per_brew=-0.015, noise=0.32, retained=1.2,
    channel_logit=(-2.2, 0.045, 1.7), dose_g=18.0,
    coffees=("ostrin", "calmuth", "pirolo", "brunnagh"),
    references={
        "plover": {"ostrin": 7.5, "calmuth": 8.25, "pirolo": 8.5, "brunnagh": 9.0},
        "curlew": {"ostrin": 2.1, "calmuth": 2.4, "pirolo": 2.5, "brunnagh": 2.8},
    },
)  # fmt: skip
POUR_OVER = Model(
    "pour_over", 20.6, "dial steps", 0.27, -0.018, 0.08, 92.5, "water_ratio", 0.45, 16.5,
    slight=-1.3, severe=-2.0, drift_per_brew=0.0, noise=0.28, retained=2.05,
    channel_logit=(-2.6, 0.25, 1.2), dose_g=15.0,
    coffees=("veldra", "ostrin", "tesquil", "calmuth", "pirolo"),
    references={"sandpiper": {"veldra": 26, "ostrin": 25, "tesquil": 25, "calmuth": 24, "pirolo": 23}},
)  # fmt: skip
BATCH_BREW = Model(
    "batch_brew", 20.2, "dial steps", 0.22, -0.012, 0.06, 94.0, "water_ratio", 0.35, 16.5,
    slight=0.0, severe=0.0, drift_per_brew=0.0, noise=0.25, retained=2.0, dose_g=66.0,
    coffees=("veldra", "ostrin", "calmuth"),
    references={"sandpiper": {"veldra": 18, "ostrin": 17, "calmuth": 16}},
)  # fmt: skip
IMMERSION = Model(
    "immersion", 22.4, "dial steps", 0.06, 0.0, 0.02, 92.0, "water_ratio", 0.05, 15.5,
    slight=0.0, severe=0.0, drift_per_brew=0.0, noise=0.25, retained=1.9, dose_g=18.0,
    coffees=("veldra", "tesquil", "calmuth", "brunnagh"),
    references={"sandpiper": {"veldra": 20, "tesquil": 19, "calmuth": 18, "brunnagh": 17}},
)  # fmt: skip
COLD_BREW = Model(
    "cold_brew", 19.0, "dial steps", 0.0, 0.0, 0.0, 8.0, "water_ratio", 0.0, 10.0,
    slight=0.0, severe=0.0, drift_per_brew=0.0, noise=0.3, retained=1.9, dose_g=60.0,
    coffees=("tesquil", "calmuth"),
    references={"sandpiper": {"tesquil": 12, "calmuth": 11}},
)  # fmt: skip
CUPPING = Model(
    "cupping", 22.0, "dial steps", 0.0, 0.0, 0.0, 94.0, "water_ratio", 0.0, 17.0,
    slight=0.0, severe=0.0, drift_per_brew=0.0, noise=0.25, retained=1.8, dose_g=11.0,
    coffees=tuple(coffee.coffee_id for coffee in COFFEES),
    references={"sandpiper": {coffee.coffee_id: 21 for coffee in COFFEES}},
)  # fmt: skip
MODELS = {model.method: model for model in (ESPRESSO, POUR_OVER, BATCH_BREW, IMMERSION, COLD_BREW, CUPPING)}
SESSION_SD = 0.12
"""Points: how far whole sessions lie apart."""


def grind_unit_per_step(model: Model, grinder: Grinder) -> float:
    """How many of the model's grind units one dial unit of this grinder is."""
    return (grinder.step_um or 1.0) if model.grind_unit == "um" else 1.0
