"""Every setting that could be brewed: the grid of levels without the impossible ones."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import product

import numpy as np

from analysis.mixed.arrays import Floats
from analysis.planning.factors import SLACK, PlanFactor
from analysis.words import count
from schemas.problem import ProblemError
from schemas.study import Condition, Impossible

MOST_CANDIDATES = 4000


def grid(factors: Sequence[PlanFactor], *, impossible: Sequence[Impossible] = ()) -> Floats:
    """Possible settings (N, k) in natural units, in order of the levels: five a factor, fewer where many are varied."""
    n_levels = next((n for n in (5, 4, 3) if n ** len(factors) <= MOST_CANDIDATES), 2)
    every = np.array(list(product(*(factor.levels(n_levels) for factor in factors))), dtype=np.float64)
    possible = np.array([not is_impossible(row, factors, impossible) for row in every])
    if not possible.any():
        raise ProblemError(
            f"All {count(len(every), 'setting')} in the range are called impossible, so nothing is left to brew. "
            "Loosen the impossible settings, or move the range."
        )
    return np.asarray(every[possible], dtype=np.float64)


def is_impossible(settings: Floats, factors: Sequence[PlanFactor], impossible: Sequence[Impossible]) -> bool:
    """Whether one setting (k,) meets every condition of any of the impossible combinations."""
    value = {factor.name: float(v) for factor, v in zip(factors, settings, strict=True)}
    return any(all(_holds(condition, value) for condition in rule.conditions) for rule in impossible)


def _holds(condition: Condition, value: dict[str, float]) -> bool:
    """A condition on a setting that the plan does not vary cannot be checked and is not taken to hold."""
    if condition.name not in value:
        return False
    at = value[condition.name]
    low = condition.at_least is None or at >= condition.at_least - SLACK
    return low and (condition.at_most is None or at <= condition.at_most + SLACK)


def refuse_impossible(settings: Floats, factors: Sequence[PlanFactor], impossible: Sequence[Impossible]) -> None:
    """Raise ProblemError when a fixed design (n, k) asks for settings that cannot be brewed."""
    bad = [row for row in settings if is_impossible(row, factors, impossible)]
    if bad:
        first = ", ".join(f"{f.name} {v:g}" for f, v in zip(factors, bad[0], strict=True))
        raise ProblemError(
            f"{len(bad)} of {len(settings)} planned brews are called impossible, the first at {first}. Take --design "
            "optimal, which goes round them, or move the range."
        )
