"""Variance components of a gappy gauge study: a mixed model with brews and readers crossed, by REML.

Variances are absolute, in (% TDS)^2. A variance that the likelihood puts at zero is dropped and named.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analysis.measurement.gauge_squares import Term, indicators
from analysis.measurement.gauge_table import GaugeTable
from analysis.mixed.arrays import NoFit
from analysis.mixed.model import RandomPart, fit_mixed_model
from schemas.problem import ProblemError


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
    columns = indicators(table)
    every = np.ones(table.tds_pct.size)
    parts = [RandomPart(term, np.argmax(columns[term], axis=1), every) for term in terms]
    fit = fit_mixed_model(table.tds_pct, every[:, None], parts)
    if isinstance(fit, NoFit):
        raise ProblemError(
            f"The mixed model of this study cannot be fitted: {fit.reason}. Take the missing readings, or fill the "
            "gaps with a second round."
        )
    variance: dict[Term, float] = dict.fromkeys(("repeat", *terms), 0.0)
    variance["repeat"] = fit.sigma**2
    variance.update((term, fit.components[term]) for term in terms if term in fit.components)
    return MixedComponents(
        variance=variance,
        zero=tuple(term for term in terms if term in fit.dropped),
        mean=float(fit.estimate[0]),
        mean_se=fit.standard_error(np.ones(1)),
        criterion=fit.criterion,
    )
