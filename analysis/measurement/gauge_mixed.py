"""Variance components of a gappy gauge study: a mixed model with brews and readers crossed, by REML.

The covariance is linear in the variances, so `analysis.effects.reml` serves as it stands, with the whole study as one
group. Variances are absolute, in (% TDS)^2. A variance that the likelihood puts at zero is dropped and named.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import combinations

import numpy as np

from analysis.effects.blocks import make_blocks
from analysis.effects.fit import Floats
from analysis.effects.reml import Reml, best_on_ray, climb
from analysis.measurement.gauge_squares import Term, indicators
from analysis.measurement.gauge_table import GaugeTable
from schemas.problem import ProblemError

RATIOS = (1.0, 0.1, 10.0, 0.01, 100.0, 1e-4, 1e4)
"""Variances over the residual at which a climb may begin."""
NEGLIGIBLE = 1e-9
"""A criterion that lower by this much is no better: the smaller model is kept."""


@dataclass(frozen=True)
class MixedComponents:
    """Variances in (% TDS)^2 by term, and which of them came out as zero.

    `mean` in % TDS with its standard error; `criterion` is -2 log restricted likelihood.
    """

    variance: dict[Term, float]
    zero: tuple[Term, ...]
    mean: float
    mean_se: float
    criterion: float


def fit_crossed(table: GaugeTable, terms: tuple[Term, ...]) -> MixedComponents:
    """REML with a variance for each of `terms` and one for the repeats; ProblemError if nothing is left to fit."""
    y = table.tds_pct
    centre, scale = float(y.mean()), float(y.std())
    z = indicators(table)
    best: tuple[Reml, tuple[Term, ...]] | None = None
    for kept in _subsets(terms):
        top = _top((y - centre) / scale, [z[term] for term in kept])
        if top is not None and (best is None or top.criterion < best[0].criterion - NEGLIGIBLE):
            best = top, kept
    if best is None:
        raise ProblemError(
            "The mixed model of this study did not converge: its repeats hardly differ, or too few readings are left. "
            "Take the missing readings, or fill the gaps with a second round."
        )
    top, kept = best
    names: tuple[Term, ...] = ("repeat", *kept)
    variance: dict[Term, float] = dict.fromkeys(("repeat", *terms), 0.0)
    variance.update(zip(names, (float(v) for v in top.theta * scale**2), strict=True))
    return MixedComponents(
        variance=variance,
        zero=tuple(term for term in terms if term not in kept),
        mean=centre + scale * float(top.beta[0]),
        mean_se=scale * float(np.sqrt(top.covariance[0, 0])),
        criterion=top.criterion + 2 * (y.size - 1) * float(np.log(scale)),
    )


def _subsets(terms: tuple[Term, ...]) -> Iterator[tuple[Term, ...]]:
    """Every choice of terms, the smallest first."""
    for size in range(len(terms) + 1):
        yield from combinations(terms, size)


def _top(y: Floats, z: list[Floats]) -> Reml | None:
    """The top of the likelihood of these terms if all their variances are positive there."""
    q = sum(part.shape[1] for part in z)
    joined = np.column_stack(z) if z else np.zeros((y.size, 1))
    blocks = make_blocks(y, np.ones((y.size, 1)), joined, np.zeros(y.size, dtype=np.int64))
    ends = np.cumsum([0, *(part.shape[1] for part in z)])
    components = np.zeros((len(z), max(q, 1), max(q, 1)))
    for k in range(len(z)):
        here = np.arange(ends[k], ends[k + 1])
        components[k, here, here] = 1.0
    starts = [best_on_ray(blocks, components, np.full(len(z), ratio)) for ratio in RATIOS]
    for _, theta in sorted((start for start in starts if start is not None), key=lambda start: start[0]):
        top = climb(blocks, components, theta)
        if top is not None:
            return top if np.all(top.theta > 0) else None
    return None
