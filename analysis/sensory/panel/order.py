"""Whether the place in the serving order moved the scores: the first cup, and a drift from place to place."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analysis.mixed.arrays import NoFit
from analysis.mixed.fit import FTest
from analysis.sensory.panel.model import fit_panel
from analysis.sensory.panel.tidy import Scores

FEWEST_PLACES = 3


@dataclass(frozen=True, slots=True)
class OrderEffect:
    """Both at once by `test`; `first` is the first cup less the line through the later ones, `per_place` its slope.

    Score units, 95 % intervals.
    """

    test: FTest
    first: float
    first_low: float
    first_high: float
    per_place: float
    per_place_low: float
    per_place_high: float
    n_scores: int


def order_effect(scores: Scores) -> OrderEffect | NoFit:
    """From the scores whose place is known, in the panel's own model with products held."""
    known = scores.take(np.flatnonzero(np.isfinite(scores.position)))
    places = np.unique(known.position)
    if not places.size:
        return NoFit("the place in the serving order was not written down")
    if places.size < FEWEST_PLACES:
        return NoFit(f"only {places.size} places in the serving order are known")
    first = (known.position == places[0]).astype(np.float64)
    model = fit_panel(known, beside=np.column_stack([first, known.position]))
    if isinstance(model, NoFit):
        return model
    size = model.fit.estimate.size
    weights = np.eye(size)[size - 2 :]
    step, slope = (model.fit.value(row) for row in weights)
    wide, steep = (model.fit.half_width(row) for row in weights)
    test = model.fit.f_test(weights)
    return OrderEffect(test, step, step - wide, step + wide, slope, slope - steep, slope + steep, known.y.size)
