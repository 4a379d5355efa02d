"""What measuring adds to the spread of these brews, and what it moves in all of them together."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from analysis.measurement.component import Budget
from analysis.mixed.arrays import Floats, Ints


@dataclass(frozen=True, slots=True)
class MeasuredSpread:
    """Variances in points squared, expected from the budgets of `n_brews` brews.

    `own`: errors that each brew has for itself (scatter of readings, display steps). `inside`: what instruments that
    differ add to the spread within the groups of the model. `beside`: what they add between groups. `level_u`: standard
    uncertainty, in points, of what is common to all of these brews. `instruments`: whose errors are shared.
    """

    own: float
    inside: float
    beside: float
    level_u: float
    n_brews: int
    instruments: tuple[str, ...]

    @property
    def variance(self) -> float:
        """What measuring adds to the spread of brews of one group."""
        return self.own + self.inside


def measured_spread(budgets: Sequence[Budget], groups: Ints) -> MeasuredSpread:
    """Expected spread from the budgets of n brews, `groups` (n,) telling which share every random level.

    A shared error of standard uncertainty u moves brew i by c_i u; over brews its sample variance is expected to be u^2
    times that of c, and their mean moves by u times the mean of c: an instrument that read every brew with one
    sensitivity adds nothing to the spread and everything to the level.
    """
    own = [sum(part.contribution**2 for part in budget.components if not part.shared) for budget in budgets]
    names = sorted({(part.shared, part.name) for budget in budgets for part in budget.components if part.shared})
    place = {name: k for k, name in enumerate(names)}
    moved = np.zeros((len(budgets), len(names)))
    for row, budget in enumerate(budgets):
        for part in budget.components:
            if part.shared:
                moved[row, place[part.shared, part.name]] += part.contribution
    inside, whole = _pooled(moved, groups), _pooled(moved, np.zeros_like(groups))
    return MeasuredSpread(
        own=float(np.mean(own)) if own else 0.0,
        inside=inside,
        beside=max(whole - inside, 0.0),
        level_u=float(np.sqrt(np.sum(moved.mean(axis=0) ** 2))) if budgets else 0.0,
        n_brews=len(budgets),
        instruments=tuple(dict.fromkeys(instrument for instrument, _ in names)),
    )


def _pooled(values: Floats, groups: Ints) -> float:
    """Variance of the columns of (n, m) about the means of their groups, pooled over groups and summed over columns."""
    levels, index = np.unique(groups, return_inverse=True)
    free = groups.size - levels.size
    if free <= 0 or values.shape[1] == 0:
        return 0.0
    sums = np.zeros((levels.size, values.shape[1]))
    np.add.at(sums, index, values)
    means = sums / np.bincount(index)[:, None]
    return float(np.sum((values - means[index]) ** 2) / free)
