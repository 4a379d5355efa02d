"""What is to be predicted: settings, for which coffee, and the window to land in; checked once, here."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field

from analysis.effects.factors import FACTORS
from analysis.known_names import check_known
from schemas.columns import COLUMNS
from schemas.methods import METHODS
from schemas.problem import ProblemError

YIELD, STRENGTH = "extraction_yield_pct", "cup_tds_pct"
RESPONSES = (YIELD, STRENGTH)
WORD = {YIELD: "yield", STRENGTH: "strength"}


@dataclass(frozen=True)
class Window:
    """Where a brew should land, ends included: yield and strength in %, an infinite end where one is left open."""

    yield_low: float = -math.inf
    yield_high: float = math.inf
    strength_low: float = -math.inf
    strength_high: float = math.inf
    source: str = ""

    def ends(self, response: str) -> tuple[float, float]:
        """Low and high end of one response."""
        if response == YIELD:
            return self.yield_low, self.yield_high
        return self.strength_low, self.strength_high

    @property
    def bounded(self) -> tuple[str, ...]:
        """The responses that the window bounds."""
        return tuple(name for name in RESPONSES if self.ends(name) != (-math.inf, math.inf))


@dataclass(frozen=True)
class PredictRequest:
    """Predict yield and strength at `settings` (by factor, in its unit; yes is 1, no is 0).

    `factors` are those of the model (empty: the named ones and the usual ones that were varied). `coffee` is one of
    the log; `new_coffee` asks for one that was never brewed. `grinder` says whose dial is meant. `find` looks for
    settings that land in `window`, those in `settings` held; `least_chance` (a share) is what counts as landing.
    """

    settings: Mapping[str, float] = field(default_factory=dict)
    factors: tuple[str, ...] = ()
    curves: tuple[str, ...] = ()
    crosses: tuple[str, ...] = ()
    method: str | None = None
    coffee: str | None = None
    new_coffee: bool = False
    grinder: str | None = None
    window: Window | None = None
    find: bool = False
    least_chance: float = 0.5


def check_predict_request(request: PredictRequest) -> None:
    """Raise ProblemError at the first thing asked for that cannot be answered whatever the brews are."""
    for name, value in request.settings.items():
        check_known("factor", name, FACTORS)
        if request.factors and name not in request.factors:
            raise ProblemError(
                f"{name} is not in the model, whose factors are {', '.join(request.factors)}. Leave it out of the "
                "settings, or add it with --factors."
            )
        if FACTORS[name].is_yes_no and value not in {0, 1}:
            raise ProblemError(f"{name} is yes or no, not {value:g}.")
        if not math.isfinite(value):
            raise ProblemError(f"{name} must be a number, not {value}.")
    if request.method is not None:
        check_known("method", request.method, METHODS)
    if request.coffee is not None and request.new_coffee:
        raise ProblemError("A coffee of the log and a new one were both asked for; choose --coffee or --new-coffee.")
    if not 0 < request.least_chance < 1:
        raise ProblemError("The least chance of landing must lie between 0 and 100 %.")
    if request.window is not None:
        check_window(request.window)


def check_window(window: Window) -> None:
    """Raise ProblemError where a window has no inside."""
    for name in RESPONSES:
        low, high = window.ends(name)
        unit = COLUMNS[name].unit
        if not low < high:
            of = f" ({window.source})" if window.source else ""
            raise ProblemError(
                f"The window for {WORD[name]}{of} goes from {low:g} to {high:g} {unit}: its low end must be under its "
                "high end."
            )
