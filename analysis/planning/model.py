"""The terms a plan is made for, and their columns at given coded settings."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from analysis.mixed.arrays import Floats
from analysis.planning.factors import PlanFactor
from schemas.problem import ProblemError


@dataclass(frozen=True, slots=True)
class PlanModel:
    """Which settings get a slope, a square and a product: tuples of column numbers of the settings.

    `names` labels the terms as the effects table does: `a`, `a^2`, `a:b`.
    """

    terms: tuple[tuple[int, ...], ...]
    names: tuple[str, ...]

    def columns(self, coded: Floats) -> Floats:
        """The terms' columns (n, p) at coded settings (n, k); there is no intercept among them."""
        made = [np.prod(coded[:, term], axis=1) for term in self.terms]
        return np.column_stack(made) if made else np.empty((coded.shape[0], 0))

    def is_square(self, place: int) -> bool:
        """Whether a term is the square of a setting."""
        term = self.terms[place]
        return len(term) == 2 and term[0] == term[1]


def plan_model(factors: Sequence[PlanFactor], *, curves: Sequence[str] = (), crosses: Sequence[str] = ()) -> PlanModel:
    """Slopes of every setting, squares of `curves` and products of `crosses` ("a:b")."""
    place = {factor.name: j for j, factor in enumerate(factors)}
    terms: list[tuple[int, ...]] = [(j,) for j in range(len(factors))]
    names = list(place)
    for name in curves:
        terms.append((_known(name, place), place[name]))
        names.append(f"{name}^2")
    for cross in crosses:
        first, _, second = cross.partition(":")
        terms.append((_known(first, place), _known(second, place)))
        names.append(cross)
    return PlanModel(tuple(terms), tuple(names))


def _known(name: str, place: dict[str, int]) -> int:
    if name not in place:
        raise ProblemError(f"{name!r} is not among the settings of this plan ({', '.join(place)}).")
    return place[name]


def all_crosses(factors: Sequence[PlanFactor]) -> tuple[str, ...]:
    """Every product of two settings."""
    names = [factor.name for factor in factors]
    return tuple(f"{a}:{b}" for k, a in enumerate(names) for b in names[k + 1 :])
