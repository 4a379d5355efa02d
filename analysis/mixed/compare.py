"""Whether a variance component belongs in the model, and which model the data favour."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy import stats

from analysis.mixed.arrays import Floats, NoFit
from analysis.mixed.checks import NOTHING_LEFT
from analysis.mixed.climb import NOTHING, top
from analysis.mixed.fit import MixedFit
from analysis.mixed.model import NOT_CONVERGED, fit_mixed_model
from analysis.mixed.scaled import RandomPart, scale


@dataclass(frozen=True)
class ComponentTest:
    """One variance against zero: `statistic` is the drop in REML -2 log-likelihood, `sd` the component's own.

    `sd` is a standard deviation in the response's unit over the slope's unit; 0 where the component came out as zero.
    """

    name: str
    statistic: float
    p_value: float
    sd: float


@dataclass(frozen=True)
class Information:
    """What maximum likelihood says of a model: `log_likelihood`, the number of parameters, and the usual criteria.

    `n_parameters` counts fixed terms, variances kept above zero, and the residual variance. Smaller is better.
    `aicc` is None where there are not at least two rows more than parameters.
    """

    log_likelihood: float
    n_parameters: int
    aic: float
    aicc: float | None
    bic: float
    dropped: tuple[str, ...]


def component_test(
    y: Floats, x: Floats, parts: Sequence[RandomPart], *, name: str, whole: MixedFit | None = None
) -> ComponentTest | NoFit:
    """REML likelihood ratio of the part called `name`, the fixed terms `x` and the other parts the same.

    A variance cannot be below zero, so under "it is zero" the statistic is zero half the time and chi-squared with one
    degree of freedom the other half (Self and Liang 1987; Stram and Lee 1994). That is a law for many levels: with
    few, or with another variance near zero, it rejects too seldom. `whole` is the fit with all `parts`, if at hand.
    """
    if name not in {part.name for part in parts}:
        raise ValueError(f"no variance component is called {name!r}")
    found = fit_mixed_model(y, x, parts) if whole is None else whole
    less = fit_mixed_model(y, x, [part for part in parts if part.name != name])
    if isinstance(found, NoFit):
        return found
    if isinstance(less, NoFit):
        return less
    variance = found.components.get(name, 0.0)
    drop = max(less.criterion - found.criterion, 0.0)
    p_value = float(0.5 * stats.chi2.sf(drop, 1)) if variance > 0 else 1.0
    return ComponentTest(name, drop, p_value, float(np.sqrt(variance)))


def information(y: Floats, x: Floats, parts: Sequence[RandomPart]) -> Information | NoFit:
    """AIC (Akaike 1974), AICc (Hurvich and Tsai 1989) and BIC (Schwarz 1978, n rows), all under maximum likelihood.

    Only ML compares models whose fixed terms differ; only on the same rows.
    """
    data = scale(y, x, parts, reml=False)
    if isinstance(data, NoFit):
        return data
    end = top(data.rotated)
    if end is None:
        return NoFit(NOT_CONVERGED)
    if end.theta[0] < NOTHING * end.theta.max():
        return NoFit(f"the levels meet every brew exactly, so {NOTHING_LEFT}")
    n, p = x.shape
    deviance = end.criterion + data.lift
    k = p + int(np.sum(end.theta > 0))
    aic = deviance + 2 * k
    return Information(
        log_likelihood=-deviance / 2,
        n_parameters=k,
        aic=aic,
        aicc=aic + 2 * k * (k + 1) / (n - k - 1) if n - k - 1 > 0 else None,
        bic=deviance + k * float(np.log(n)),
        dropped=tuple(part.name for part, variance in zip(parts, end.theta[1:], strict=True) if variance <= 0),
    )
