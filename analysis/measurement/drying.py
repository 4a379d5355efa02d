"""Strength by drying: what is left of a weighed sample, with its uncertainty, or why it cannot be said.

Strengths in % by mass, masses in g. Per dish `100 (residue - blank) / sample`; a brew's strength is the mean of its dry
dishes.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

import polars as pl

from analysis.measurement.component import Budget, combine
from analysis.measurement.drying_budget import lines_of
from analysis.measurement.drying_dishes import Dish, State, read_dishes
from analysis.measurement.drying_scatter import DishScatter, dish_scatter
from analysis.measurement.drying_strength import BlankDish, DishStrength, blank_dish, blank_scatter, dish_strength
from schemas.lab import LabSettings

Brew = tuple[str, str]
"""A brew and the oven that its samples were dried in."""


@dataclass(frozen=True, slots=True)
class DriedBrew:
    """A brew's strength by drying in one oven; `left_out` are its dishes that do not count, with their states.

    `budget` is null where a weighing scale says nothing of its uncertainty; `notes` say what the budget leaves out.
    """

    brew_id: str
    oven: str
    tds_pct: float
    dishes: tuple[DishStrength, ...]
    left_out: tuple[tuple[Dish, State], ...]
    budget: Budget | None
    dried_at: datetime | None
    notes: tuple[str, ...]

    @property
    def u_pct(self) -> float | None:
        """Standard uncertainty of the strength."""
        return None if self.budget is None else self.budget.u

    @property
    def df(self) -> float | None:
        """Effective degrees of freedom of that uncertainty."""
        return None if self.budget is None else self.budget.df

    @property
    def shared_u_pct(self) -> float | None:
        """The part of it that other brews dried in this oven share, so that more brews do not shrink it."""
        if self.budget is None:
            return None
        return math.hypot(*(line.contribution for line in self.budget.components if line.shared))


@dataclass(frozen=True, slots=True)
class NotDried:
    """A brew without a strength by drying: none of its dishes is known to have been dry.

    `at_most_pct` is an upper bound from the lightest weighing of each usable dish (their mean), else null.
    """

    brew_id: str
    oven: str
    dishes: tuple[tuple[Dish, State], ...]
    at_most_pct: float | None
    n_bounding: int


@dataclass(frozen=True, slots=True)
class Drying:
    """All brews with oven-dried samples, in the order of their ids.

    `scatter` is the scatter of dishes by oven and method; `constant_mass_pct` the criterion that was applied.
    """

    brews: tuple[DriedBrew, ...]
    refused: tuple[NotDried, ...]
    scatter: Mapping[tuple[str, str], DishScatter]
    constant_mass_pct: float


def dried_strengths(
    dryings: pl.DataFrame, instruments: pl.DataFrame, brews: pl.DataFrame, *, settings: LabSettings
) -> Drying:
    """Strength by drying of every brew with a worksheet.

    `dryings` and `instruments` as for `read_dishes`; `brews` has brew_id and method, and decides which brews count:
    leave void ones out. Weighings of other brews are passed over.
    """
    methods = dict(brews.select("brew_id", "method").iter_rows())
    dishes = read_dishes(dryings, instruments)
    blanks = _blanks([dish for dish in dishes if dish.is_blank])
    groups: defaultdict[Brew, list[Dish]] = defaultdict(list)
    for dish in dishes:
        if not dish.is_blank and dish.brew_id in methods:
            groups[dish.brew_id, dish.oven].append(dish)
    dry = {brew: _dry(group, blanks, settings) for brew, group in sorted(groups.items())}
    scatter = dish_scatter({brew: found for brew, found in dry.items() if found}, methods)
    done, refused = [], []
    for (brew_id, oven), found in dry.items():
        group = groups[brew_id, oven]
        if found:
            done.append(_dried(brew_id, oven, group, found, scatter.get((oven, methods[brew_id])), settings))
        else:
            refused.append(_not_dried(brew_id, oven, group, blanks, settings))
    return Drying(tuple(done), tuple(refused), scatter, settings.drying.constant_mass_pct)


def _blanks(dishes: Sequence[Dish]) -> dict[tuple[str, str], BlankDish]:
    """The blank correction of every oven run that had usable blank dishes."""
    runs: defaultdict[tuple[str, str], list[Dish]] = defaultdict(list)
    for dish in dishes:
        if not dish.problem:
            runs[dish.oven, dish.drying_id].append(dish)
    scatter = {
        oven: blank_scatter(found for (of_oven, _), found in runs.items() if of_oven == oven) for oven, _ in runs
    }
    return {(oven, run): blank_dish(found, scatter[oven]) for (oven, run), found in runs.items()}


def _dry(
    group: Iterable[Dish], blanks: Mapping[tuple[str, str], BlankDish], settings: LabSettings
) -> tuple[DishStrength, ...]:
    """The dishes of a brew that reached constant mass and hold more than the blank."""
    return tuple(
        strength
        for dish in group
        if dish.state(settings.drying) == "dry"
        for strength in [dish_strength(dish, blanks.get((dish.oven, dish.drying_id)), left_g=dish.residue_g)]
        if strength.tds_pct > 0
    )


def _dried(
    brew_id: str,
    oven: str,
    group: Sequence[Dish],
    found: tuple[DishStrength, ...],
    scatter: DishScatter | None,
    settings: LabSettings,
) -> DriedBrew:
    used = {id(strength.dish) for strength in found}
    value = math.fsum(strength.tds_pct for strength in found) / len(found)
    lines, notes = lines_of(found, value, scatter, settings.drying)
    times = [strength.dish.dried_at for strength in found if strength.dish.dried_at is not None]
    return DriedBrew(
        brew_id=brew_id,
        oven=oven,
        tds_pct=value,
        dishes=found,
        left_out=tuple((dish, _why(dish, settings)) for dish in group if id(dish) not in used),
        budget=None if lines is None else combine(value, lines, unit="%"),
        dried_at=max(times) if times else None,
        notes=tuple(notes),
    )


def _not_dried(
    brew_id: str,
    oven: str,
    group: Sequence[Dish],
    blanks: Mapping[tuple[str, str], BlankDish],
    settings: LabSettings,
) -> NotDried:
    bounds = [
        dish_strength(dish, blanks.get((dish.oven, dish.drying_id)), left_g=dish.most_left_g).tds_pct
        for dish in group
        if not dish.problem
    ]
    bounds = [bound for bound in bounds if bound > 0]
    at_most = math.fsum(bounds) / len(bounds) if bounds else None
    return NotDried(brew_id, oven, tuple((dish, _why(dish, settings)) for dish in group), at_most, len(bounds))


def _why(dish: Dish, settings: LabSettings) -> State:
    """The state of a dish that does not count; one that was dry holds no more than the blank."""
    state = dish.state(settings.drying)
    return "unusable" if state == "dry" else state
