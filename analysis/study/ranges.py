"""Declared ranges against brewed settings, and settings that the kit was said not to be able to brew."""

from __future__ import annotations

from dataclasses import dataclass

import polars as pl

from analysis.effects.factors import FACTORS
from analysis.words import listed
from schemas.columns import COLUMNS
from schemas.study import Condition, Study, StudyFactor

HAIR = 1e-9
"""Rounding of computed settings, relative to the range: not outside."""


@dataclass(frozen=True, slots=True)
class BrewedRange:
    """One factor: what was declared, what was brewed (None: no brew has a value), in the column's unit.

    `outside` are the brews beyond the declared range, `n_values` how many brews have a value.
    """

    name: str
    low: float | None
    high: float | None
    brewed_low: float | None
    brewed_high: float | None
    n_values: int
    outside: tuple[str, ...]


def brewed_ranges(brews: pl.DataFrame, study: Study) -> tuple[BrewedRange, ...]:
    """Each number factor of the study against the brews' own settings; yes/no factors have no range."""
    return tuple(_range(brews, factor) for factor in study.factors if not FACTORS[factor.name].is_yes_no)


def _range(brews: pl.DataFrame, factor: StudyFactor) -> BrewedRange:
    values = pl.col(factor.name).cast(pl.Float64)
    there = brews.filter(values.is_finite().fill_null(value=False)).with_columns(value=values)
    outside: tuple[str, ...] = ()
    if factor.low is not None and factor.high is not None:
        hair = HAIR * (factor.high - factor.low)
        out = (pl.col("value") < factor.low - hair) | (pl.col("value") > factor.high + hair)
        outside = tuple(there.filter(out)["brew_id"])
    ends = there.select(low=pl.col("value").min(), high=pl.col("value").max()).row(0)
    return BrewedRange(factor.name, factor.low, factor.high, ends[0], ends[1], there.height, outside)


def brewed_though_impossible(brews: pl.DataFrame, study: Study) -> dict[str, tuple[str, ...]]:
    """Ids of brews at settings declared impossible, by the settings in words."""
    found = {
        condition_words(one.conditions): brews.filter(pl.all_horizontal([_holds(part) for part in one.conditions]))
        for one in study.impossible
    }
    return {words: tuple(rows["brew_id"]) for words, rows in found.items() if rows.height}


def _holds(condition: Condition) -> pl.Expr:
    values = pl.col(condition.name).cast(pl.Float64)
    low = values.is_not_null() if condition.at_least is None else values >= condition.at_least
    high = values.is_not_null() if condition.at_most is None else values <= condition.at_most
    return (low & high).fill_null(value=False)


def condition_words(conditions: tuple[Condition, ...]) -> str:
    """Conditions that hold together, in words.

    >>> condition_words((Condition("water_temp_c", at_least=96), Condition("dose_g", 17, 18)))
    'water_temp_c at least 96 C and dose_g 17 to 18 g'
    """
    return listed([_words(condition) for condition in conditions])


def _words(condition: Condition) -> str:
    low, high = condition.at_least, condition.at_most
    bounds = f"at least {low:g}" if high is None else f"at most {high:g}" if low is None else f"{low:g} to {high:g}"
    return f"{condition.name} {bounds} {COLUMNS[condition.name].unit}".rstrip()
