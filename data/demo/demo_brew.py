"""What happens when a planned brew is made, and what the lab writes down of it.

The true yield comes from the method's model; strength follows from the mass balance that applies; instruments add
their bias, their drift and their scatter; scales round.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from math import exp

import numpy as np
from demo_plan import Planned
from demo_world import (
    CHANNELING_PRONE,
    COFFEE,
    GRINDER,
    INSTRUMENT,
    INSTRUMENTS,
    LOTS,
    OPERATOR_LEVEL,
    SESSION_SD,
    Grinder,
    Lot,
    grind_unit_per_step,
)

Row = dict[str, str]
FIRST_DAY = date(2026, 3, 2)
IMMERSED = ("immersion", "cold_brew", "cupping")


@dataclass(frozen=True)
class Latent:
    """The truth of one brew: masses in g, yield and undiluted strength in %, ratio in g/g.

    `bypass_weighed`: the bypass was in the cup on the scale; `bypass_read`: it was in when the reading was taken.
    """

    planned: Planned
    dose_g: float
    water_g: float
    beverage_g: float
    bypass_g: float
    bypass_weighed: bool
    bypass_read: bool
    evaporated_g: float
    temp_c: float
    ratio: float
    channeling: str
    channeling_points: float
    yield_pct: float
    tds_pct: float
    brew_time_s: float


@dataclass(frozen=True)
class Brewed:
    """A brew as it was and as it was written down; `looked` is false where nobody watched the flow.

    `drops` are the true strengths in % of the samples that were read, sample 1 first.
    """

    latent: Latent
    looked: bool
    row: Row
    readings: list[Row]
    drops: list[float]


def fixed(value: float, places: int) -> str:
    """The number with this many decimals, never a negative zero."""
    return f"{round(value, places) + 0.0:.{places}f}"


def dial_text(grinder: Grinder, position: float) -> str:
    """A dial position as people write it: 8.25, 24, or 2.5.1 for two and five tenths and one fiftieth."""
    if grinder.places >= 0:
        return fixed(position, grinder.places)
    fiftieths = round(position * 50)
    return f"{fiftieths // 50}.{fiftieths % 50 // 5}.{fiftieths % 5}"


def lot_of(coffee_id: str, day: date) -> Lot | None:
    """The lot of this coffee in use on that day, where the lab keeps lots."""
    lots = [lot for lot in LOTS if lot.coffee_id == coffee_id and lot.first_day <= day]
    return lots[-1] if lots else None


class Bench:
    """The lab at work: the draws made once (biases, session levels) and the generator for everything else."""

    def __init__(self, rng: np.random.Generator) -> None:
        self.rng = rng
        self.bias = {i.instrument_id: float(rng.normal(0, i.standard_uncertainty)) for i in INSTRUMENTS}
        self.session_level: dict[str, float] = {}

    def offset(self, instrument_id: str, at: datetime) -> float:
        """Bias and drift of an instrument at a moment, in its unit."""
        weeks = (at.date() - FIRST_DAY).days / 7
        return self.bias[instrument_id] + INSTRUMENT[instrument_id].drift_per_week * weeks

    def brew(self, planned: Planned) -> Brewed:
        """Make one brew and write it down."""
        latent = self._make(planned)
        looked = planned.model.channel_logit is not None and bool(self.rng.random() > 0.08)
        return Brewed(latent, looked, self._written(latent, looked), *self._readings(latent))

    def _channeling(self, planned: Planned, steps: float) -> str:
        logit = planned.model.channel_logit
        if logit is None:
            return "none"
        grind = steps * grind_unit_per_step(planned.model, GRINDER[planned.grinder_id])
        score = logit[0] + logit[1] * grind + logit[2] * (planned.operator == CHANNELING_PRONE)
        if self.rng.random() >= 1 / (1 + exp(-score)):
            return "none"
        return "severe" if self.rng.random() < 1 / 3 else "slight"

    def _yield_pct(self, planned: Planned, temp_c: float, ratio: float, channeling_points: float) -> float:
        model, rng = planned.model, self.rng
        grind = planned.steps_finer * grind_unit_per_step(model, GRINDER[planned.grinder_id])
        if planned.session_id not in self.session_level:
            self.session_level[planned.session_id] = float(rng.normal(0, SESSION_SD))
        lot = lot_of(planned.coffee_id, planned.at.date())
        return (
            model.level
            + COFFEE[planned.coffee_id].level
            + (lot.level if lot else 0.0)
            + OPERATOR_LEVEL[planned.operator]
            + self.session_level[planned.session_id]
            + model.grind * grind
            + model.grind_curve * grind**2
            + model.temp * (temp_c - model.temp_zero_c)
            + model.ratio * (ratio - model.ratio_zero)
            + channeling_points
            + model.drift_per_brew * (planned.run_order - 1)
            + float(rng.normal(0, model.noise))
        )

    def _make(self, planned: Planned) -> Latent:
        model, rng = planned.model, self.rng
        dose = model.dose_g * (1 + float(rng.normal(0, 0.006)))
        temp = planned.water_temp_c + float(rng.normal(0, 0.25))
        ratio = planned.ratio * (1 + float(rng.normal(0, 0.012)))
        channeling = self._channeling(planned, planned.steps_finer)
        points = {"none": 0.0, "slight": model.slight, "severe": model.severe}[channeling]
        true_yield = self._yield_pct(planned, temp, ratio, points)
        dissolved = dose * true_yield / 100
        retained = dose * model.retained * (1 + float(rng.normal(0, 0.03)))
        evaporated = float(rng.uniform(2, 6)) if model.method == "immersion" else 0.0
        if model.ratio_column == "beverage_ratio":
            beverage = ratio * dose
            tds = 100 * dissolved / beverage
            water = beverage - dissolved + retained
        elif model.method in IMMERSED:
            water = ratio * dose
            tds = 100 * dissolved / (water - evaporated + dissolved)
            beverage = (water - evaporated - retained) / (1 - tds / 100)
        else:
            water = ratio * dose
            beverage = water - retained + dissolved
            tds = 100 * dissolved / beverage
        bypass = planned.bypass_per_dose * dose
        weighed, read = (bool(rng.random() < 0.5) and bypass > 0 for _ in range(2))
        return Latent(
            planned, dose, water, beverage, bypass, weighed, read, evaporated, temp, ratio, channeling, points,
            true_yield, tds, self._time_s(planned, ratio, channeling),
        )  # fmt: skip

    def _time_s(self, planned: Planned, ratio: float, channeling: str) -> float:
        grind = planned.steps_finer * grind_unit_per_step(planned.model, GRINDER[planned.grinder_id])
        quicker = {"none": 1.0, "slight": 0.9, "severe": 0.78}[channeling]
        scatter = 1 + float(self.rng.normal(0, 0.035))
        seconds = {
            "espresso": (14 + 7 * ratio) * exp(0.006 * grind),
            "pour_over": 172 * exp(0.035 * grind),
            "batch_brew": 330.0,
            "immersion": 240.0,
            "cold_brew": 57_600.0,
            "cupping": 600.0,
        }[planned.model.method]
        return seconds * quicker * scatter

    def _weighed(self, scale_id: str, true_g: float, at: datetime) -> str:
        scale = INSTRUMENT[scale_id]
        seen = true_g + self.offset(scale_id, at) + float(self.rng.normal(0, scale.repeatability))
        return fixed(round(seen / scale.resolution) * scale.resolution, 0 if scale.resolution >= 1 else 1)

    def _written(self, latent: Latent, looked: bool) -> Row:
        planned, method = latent.planned, latent.planned.model.method
        grinder = GRINDER[planned.grinder_id]
        reference = planned.model.references[planned.grinder_id][planned.coffee_id]
        direction = -1 if grinder.finer_is == "lower" else 1
        lot = lot_of(planned.coffee_id, planned.at.date())

        def weighed(true_g: float) -> str:
            return self._weighed(planned.scale_id, true_g, planned.at)

        row = {
            "brew_id": planned.brew_id,
            "study_id": planned.study_id,
            "recipe_id": planned.recipe_id,
            "brewed_at": f"{planned.at:%Y-%m-%dT%H:%M}",
            "operator": planned.operator,
            "session_id": planned.session_id,
            "run_order": str(planned.run_order),
            "coffee_id": planned.coffee_id,
            "lot_id": lot.lot_id if lot else "",
            "method": method,
            "water_id": "soft-2" if method in ("espresso", "cupping") else "shop-tap",
            "grinder_id": planned.grinder_id,
            "grind_setting": dial_text(grinder, reference + direction * planned.steps_finer),
            "scale_id": planned.scale_id,
            "dose_g": weighed(latent.dose_g),
            "water_g": weighed(latent.water_g),
            "beverage_g": "" if method == "cupping" else weighed(latent.beverage_g),
            "water_temp_c": fixed(latent.temp_c, 1),
            "brew_time_s": fixed(latent.brew_time_s, 0),
            "channeling": latent.channeling if looked else "",
        }
        if latent.bypass_g:
            row["bypass_g"] = weighed(latent.bypass_g)
            row["bypass_included"] = "yes" if latent.bypass_weighed else "no"
            row["bypass_before_reading"] = "yes" if latent.bypass_read else "no"
            row["beverage_g"] = weighed(latent.beverage_g + latent.bypass_g * latent.bypass_weighed)
        if method == "immersion":
            row["evaporated_g"] = weighed(latent.evaporated_g)
        if method == "espresso":
            row["basket"] = "double-18"
            row["machine_id"] = "bar-1"
            row["pressure_bar"] = fixed(9 + float(self.rng.normal(0, 0.15)), 1)
            row["first_drip_s"] = fixed(0.25 * latent.brew_time_s, 0)
            poured_away = latent.channeling == "severe" and self.rng.random() < 0.6
            row["discarded"] = "yes" if poured_away else "no"
        if method == "pour_over":
            row["brewer"] = "cone-60"
            row["filter"] = "paper, white"
        return row

    def _readings(self, latent: Latent) -> tuple[list[Row], list[float]]:
        planned, rng = latent.planned, self.rng
        lens = INSTRUMENT[planned.instrument_id]
        espresso = planned.model.method == "espresso"
        scatter = lens.repeatability_espresso if espresso else lens.repeatability
        samples = 2 if not planned.practice and rng.random() < 0.2 else 1
        each = 2 if samples == 2 or planned.practice else int(rng.integers(2, 4))
        strength = latent.tds_pct
        if latent.bypass_read:
            strength *= latent.beverage_g / (latent.beverage_g + latent.bypass_g)
        rows, drops = [], []
        for sample in range(1, samples + 1):
            drop = strength + float(rng.normal(0, scatter))
            drops.append(drop)
            for reading in range(1, each + 1):
                seen = drop + self.offset(lens.instrument_id, planned.at) + float(rng.normal(0, scatter))
                rows.append(
                    {
                        "brew_id": planned.brew_id,
                        "instrument_id": lens.instrument_id,
                        "sample_no": str(sample),
                        "reading_no": str(reading),
                        "tds_pct": fixed(seen, 2),
                        "sample_temp_c": fixed(22 + float(rng.normal(0, 0.8)), 1),
                        "sample_filtered": "yes" if espresso else "no",
                    }
                )
        return rows, drops
