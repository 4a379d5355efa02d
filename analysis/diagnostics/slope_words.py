"""An effect of the diagnosis in words, with the trade's name for its step."""

from __future__ import annotations

from analysis.diagnostics.case import Case
from analysis.diagnostics.headline import Slope
from analysis.effects.factors import FACTORS, difference_unit
from analysis.effects.words import decimals, plain, signed


def change_words(case: Case, slope: Slope) -> str:
    """The change the effect is stated for: 'one step finer', 'one step finer on g1'."""
    step = case.request.step(slope.name)
    return FACTORS[slope.name].change_words(step) + slope.per.removeprefix(FACTORS[slope.name].per(step))


def interval_words(case: Case, slope: Slope, *, head: bool = True) -> str:
    """'one step finer +0.35 points, 95 % interval 0.20 to 0.50'; without its head from the number on."""
    places = decimals(slope.low, slope.high)
    amount = f"{signed(slope.estimate, places)} {difference_unit(case.request.response)}"
    said = f"{amount}, 95 % interval {plain(slope.low, places)} to {plain(slope.high, places)}"
    return f"{change_words(case, slope)} {said}" if head else said
