"""The panel's model of one attribute: products fixed, assessors and what they do to products at random."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analysis.mixed.arrays import Floats, NoFit
from analysis.mixed.fit import FTest, MixedFit
from analysis.mixed.model import fit_mixed_model
from analysis.sensory.panel.linear import indicators
from analysis.sensory.panel.random_parts import layout
from analysis.sensory.panel.tidy import Scores
from analysis.words import listed


@dataclass(frozen=True)
class PanelModel:
    """A fit whose first k fixed terms are the means of the products in `products` (k,) codes; `words` name it."""

    fit: MixedFit
    products: tuple[int, ...]
    words: str

    def mean(self, place: int) -> Floats:
        """Weights (p,) of one product's mean."""
        weights = np.zeros(self.fit.estimate.size)
        weights[place] = 1.0
        return weights

    def difference(self, first: int, second: int) -> Floats:
        """Weights (p,) of one product's mean less another's."""
        return self.mean(first) - self.mean(second)

    def products_test(self) -> FTest:
        """F, Satterthwaite's degrees of freedom, of "all products alike"."""
        return self.fit.f_test(np.array([self.difference(k, 0) for k in range(1, len(self.products))]))


def fit_panel(scores: Scores, *, beside: Floats | None = None) -> PanelModel | NoFit:
    """Products fixed; assessors, product by assessor, sessions and brews at random (REML) where the rows show them.

    Where two parts cannot be told apart the later one is left out. `beside` (n, m): further fixed columns.
    """
    refusal = _refused(scores)
    if refusal:
        return NoFit(refusal)
    codes = np.unique(scores.product)
    plan = layout(scores)
    fixed = [indicators(scores.product)]
    if plan.session_step is not None:
        fixed.append((plan.session_step - plan.session_step.mean())[:, None])
    if beside is not None:
        fixed.append(beside - beside.mean(axis=0))
    x, parts = np.column_stack(fixed), list(plan.parts)
    fit = fit_mixed_model(scores.y, x, parts)
    while isinstance(fit, NoFit) and len(parts) > 1 and "told apart" in fit.reason and "factors" not in fit.reason:
        parts.pop()
        fit = fit_mixed_model(scores.y, x, parts)
    if isinstance(fit, NoFit):
        return NoFit(fit.reason.replace("every brew", "every score").replace("brews", "scores"))
    step = ", a step between the two sessions" if plan.session_step is not None else ""
    none = f"; no spread seen of {listed(list(fit.dropped))}" if fit.dropped else ""
    named = listed([part.name for part in parts])
    words = f"products fixed{step}; {named} at random (REML, Satterthwaite degrees of freedom){none}"
    return PanelModel(fit, tuple(int(code) for code in codes), words)


def _refused(scores: Scores) -> str:
    """Why there is no such model, in words; empty where there may be one."""
    if np.unique(scores.assessor).size < 2:
        return "one assessor scored it, and one is no panel"
    if np.unique(scores.product).size < 2:
        return "one product was scored, so there is nothing to tell apart"
    if np.ptp(scores.y) == 0:
        return "every score is the same"
    if scores.y.size <= np.unique(scores.product).size + 1:
        return "there are hardly more scores than products"
    return ""
