"""How many brews, and what could be seen: both questions of a power calculation, for recipes side by side."""

from __future__ import annotations

import math
from dataclasses import dataclass

from scipy import optimize

from analysis.effects.factors import difference_unit
from analysis.planning.noise import Noise
from analysis.planning.power import (
    POWER,
    brews_for_anova,
    brews_for_means,
    power_of_anova,
    power_of_means,
    smallest_seen,
    spread_of_extremes,
)
from analysis.planning.simulate import SimulatedPower
from analysis.words import count, digits_for, number
from schemas.problem import ProblemError

RULE = "two-sided at 5 %"


@dataclass(frozen=True)
class Answer:
    """What a power calculation came to.

    `needed`: brews of each recipe, or in all for a setting (None: not asked, or no number does); `needed_low` to
    `needed_high`: the same at the ends of what is known of the spread. `chance` of seeing the difference, the
    `smallest` one seen with the asked-for chance and `simulated` belong to `n` brews.
    """

    needed: int | None
    needed_low: int | None
    needed_high: int | None
    n: int | None
    chance: float | None
    smallest: float | None
    simulated: SimulatedPower | None
    sentences: tuple[str, ...]


def recipes_answer(
    noise: Noise, *, response: str, difference: float | None, recipes: int = 2, brews: int | None = None,
    power: float = POWER,
) -> Answer:  # fmt: skip
    """Brews of each of two or more recipes, brewed side by side: of one coffee, in the same sessions, in random order.

    t test for two; for more the F test of one-way analysis of variance, the difference between the two furthest apart.
    """
    if recipes < 2:
        raise ProblemError(f"It takes two recipes or more to compare, not {recipes}.")
    if brews is not None and brews < 2:
        raise ProblemError("Brew each recipe twice or more: one brew says nothing of the scatter.")
    needed = None if difference is None else _recipes_needed(difference, noise.brew_sd, recipes, power)
    low, high = None, None
    if difference is not None and (ends := noise.interval()):
        low, high = (_recipes_needed(difference, sd, recipes, power) for sd in ends)
    chance = smallest = None
    if brews is not None:
        smallest = _recipes_smallest(noise.brew_sd, recipes, brews, power)
        chance = None if difference is None else _recipes_chance(difference, noise.brew_sd, recipes, brews)
    said = _recipes_said(noise, response, difference, recipes, brews, power, needed, (low, high), chance, smallest)
    return Answer(needed, low, high, brews, chance, smallest, None, said)


def _recipes_needed(difference: float, sd: float, recipes: int, power: float) -> int:
    if recipes == 2:
        return max(2, math.ceil(brews_for_means(difference, sd, power=power) - 1e-9))
    return max(2, math.ceil(brews_for_anova(recipes, spread_of_extremes(recipes, difference, sd), power=power) - 1e-9))


def _recipes_chance(difference: float, sd: float, recipes: int, brews: int) -> float:
    if recipes == 2:
        return power_of_means(brews, difference, sd)
    return power_of_anova(brews, recipes, spread_of_extremes(recipes, difference, sd))


def _recipes_smallest(sd: float, recipes: int, brews: int, power: float) -> float:
    if recipes == 2:
        return smallest_seen(sd * math.sqrt(2 / brews), 2 * brews - 2, power=power)
    reach = 20 * sd
    return float(optimize.brentq(lambda d: _recipes_chance(d, sd, recipes, brews) - power, 1e-9, reach))


def _recipes_said(
    noise: Noise, response: str, difference: float | None, recipes: int, brews: int | None, power: float,
    needed: int | None, ends: tuple[int | None, int | None], chance: float | None, smallest: float | None,
) -> tuple[str, ...]:  # fmt: skip
    unit = difference_unit(response)
    between = "two recipes" if recipes == 2 else f"the furthest apart of {recipes} recipes"
    said = [noise.said]
    if needed is not None and difference is not None:
        said.append(
            f"To see a difference of {amount(difference)} {unit} between {between} with a chance of {percent(power)} "
            f"({RULE}), brew each {count(needed, 'time')}{range_said(ends)}."
        )
    if brews is not None and smallest is not None:
        said.append(
            f"With {count(brews, 'brew')} of each, a difference of {amount(smallest)} {unit} would be seen with a "
            f"chance of {percent(power)}{_chance_said(difference, chance, unit)}."
        )
    said.append("Brewed side by side: one coffee, the same sessions, in random order.")
    return tuple(said)


def range_said(ends: tuple[int | None, int | None]) -> str:
    """How far the number of brews is open because the spread is."""
    if ends[0] is None or ends[0] == ends[1]:
        return ""
    return f"; {ends[0]} to {ends[1]}, as the spread itself is known only so far (95 %)"


def _chance_said(difference: float | None, chance: float | None, unit: str) -> str:
    if difference is None or chance is None:
        return ""
    return f", one of {amount(difference)} {unit} with {percent(chance)}"


def amount(value: float) -> str:
    """A difference to two figures."""
    return number(value, digits_for([value]))


def percent(share: float) -> str:
    """A share in whole per cent."""
    return f"{100 * share:.0f} %"
