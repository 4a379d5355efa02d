"""The settings of a plan: their range, what dial or weighing scale can do, and coded levels from -1 to +1."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from difflib import get_close_matches

import numpy as np

from analysis.effects.factors import FACTORS
from analysis.mixed.arrays import Floats
from analysis.words import count, listed
from schemas.methods import BALANCE_OF_METHOD, METHODS
from schemas.problem import ProblemError

SETTABLE: dict[str, float] = {
    "grind_steps_finer": 1.0,
    "water_temp_c": 1.0,
    "beverage_ratio": 0.1,
    "water_ratio": 0.5,
    "dose_g": 0.1,
    "brew_time_s": 1.0,
    "preinfusion_s": 1.0,
    "pressure_bar": 0.5,
}
"""What a run sheet can ask for, with the smallest change that kit usually sets (common practice, no source)."""
SLACK = 1e-9
MOST_FACTORS = 8
"""More at once than anybody keeps in hand, and 2^8 is 256 brews."""


@dataclass(frozen=True, slots=True)
class PlanFactor:
    """A setting to vary from `low` to `high` in multiples of `step`, all in the column's unit.

    `settings` are the levels to brew at where they were declared, else empty; `hard_to_change` keeps it still between
    neighbouring brews; `curve` asks for its square.
    """

    name: str
    low: float
    high: float
    step: float
    settings: tuple[float, ...] = ()
    hard_to_change: bool = False
    curve: bool = False

    @property
    def noun(self) -> str:
        """The setting in prose."""
        return FACTORS[self.name].noun

    @property
    def centre(self) -> float:
        """Half way between low and high."""
        return (self.low + self.high) / 2

    @property
    def half(self) -> float:
        """From the centre to either end."""
        return (self.high - self.low) / 2

    def natural(self, coded: float) -> float:
        """The setting for a coded level, rounded to what can be set, counted from `low`.

        >>> PlanFactor("water_temp_c", 90, 95, 1).natural(0.0), PlanFactor("water_temp_c", 90, 95, 0.5).natural(0.0)
        (93.0, 92.5)
        """
        asked = self.centre + coded * self.half
        steps = math.floor((asked - self.low) / self.step + 0.5 + SLACK)
        return round(float(self.low + steps * self.step), 9)

    def coded(self, natural: float) -> float:
        """The coded level of a setting: -1 at low, +1 at high.

        >>> PlanFactor("water_temp_c", 90, 96, 1).coded(94.5)
        0.5
        """
        return (natural - self.centre) / self.half

    def levels(self, n: int) -> tuple[float, ...]:
        """Up to `n` settings from low to high as even as the step allows, or the declared ones.

        >>> PlanFactor("water_temp_c", 90, 96, 1).levels(3), PlanFactor("water_temp_c", 90, 92, 2).levels(5)
        ((90.0, 93.0, 96.0), (90.0, 92.0))
        """
        if self.settings:
            return self.settings
        return tuple(dict.fromkeys(self.natural(float(at)) for at in np.linspace(-1, 1, n)))


def check_factors(factors: Sequence[PlanFactor], method: str) -> None:
    """Raise ProblemError at the first setting that cannot be planned."""
    if method not in METHODS:
        near = get_close_matches(method, METHODS, n=1)
        raise ProblemError(
            f"{method!r} is not a brew method{f'; did you mean {near[0]}?' if near else '.'} "
            f"The list: {', '.join(METHODS)}."
        )
    if not factors:
        raise ProblemError("No setting is named: say what to vary and from where to where, such as water_temp_c=90:96.")
    if len(factors) > MOST_FACTORS:
        raise ProblemError(f"{count(len(factors), 'setting')} are too many for one plan; vary {MOST_FACTORS} or fewer.")
    names = [factor.name for factor in factors]
    for factor in factors:
        _check_name(factor.name, method)
        if names.count(factor.name) > 1:
            raise ProblemError(f"{factor.name} is named twice; name it once.")
        _check_range(factor)


def _check_name(name: str, method: str) -> None:
    if name not in SETTABLE:
        near = get_close_matches(name, SETTABLE, n=1)
        raise ProblemError(
            f"{name!r} is not a setting that can be planned{f'; did you mean {near[0]}?' if near else '.'} "
            f"The list: {', '.join(SETTABLE)}."
        )
    if name == "brew_time_s" and BALANCE_OF_METHOD.get(method) == "percolation":
        raise ProblemError(
            f"In {method.replace('_', ' ')} the brew time is a result of grind, dose and preparation, not a setting. "
            "Vary what moves it, such as grind_steps_finer."
        )


def _check_range(factor: PlanFactor) -> None:
    name, low, high, step = factor.name, factor.low, factor.high, factor.step
    if not all(math.isfinite(value) for value in (low, high, step)):
        raise ProblemError(f"{name} needs numbers: from where, to where and in which steps.")
    if low == high:
        raise ProblemError(f"{name} has one level, {low:g}. A setting that stays the same tells nothing; widen it.")
    if low > high:
        raise ProblemError(f"{name} runs from {low:g} to {high:g}; write the smaller number first.")
    if step <= 0:
        raise ProblemError(f"The step of {name} is {step:g}; it must be a number above 0.")
    if step > (high - low) * (1 + SLACK):
        raise ProblemError(f"{name} from {low:g} to {high:g} leaves no second setting in steps of {step:g}; widen it.")
    outside = [value for value in factor.settings if not low - SLACK <= value <= high + SLACK]
    if outside:
        raise ProblemError(f"{name}: {listed([f'{v:g}' for v in outside])} is outside {low:g} to {high:g}.")


def natural_settings(coded: Floats, factors: Sequence[PlanFactor]) -> Floats:
    """Settings (n, k) that kit can do for coded levels (n, k)."""
    rows = [[factor.natural(float(v)) for factor, v in zip(factors, row, strict=True)] for row in coded]
    return np.array(rows, dtype=np.float64).reshape(len(rows), len(factors))


def coded_settings(natural: Floats, factors: Sequence[PlanFactor]) -> Floats:
    """Coded levels (n, k) of settings (n, k)."""
    centre = np.array([factor.centre for factor in factors])
    half = np.array([factor.half for factor in factors])
    return np.asarray((natural - centre) / half, dtype=np.float64)
