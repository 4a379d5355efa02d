"""How an assessor uses a scale: level, range, ends, and the same score for everything."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analysis.sensory.panel.tidy import Scores

FEWEST_TO_BE_CONSTANT = 3


@dataclass(frozen=True, slots=True)
class ScaleUse:
    """`n` scores of one assessor: mean, sd (None for one score), range, percent on an end of the scale.

    `constant`: one and the same score for at least three, from more than one product.
    """

    n: int
    mean: float
    sd: float | None
    low: float
    high: float
    extreme_pct: float
    constant: bool


def scale_use(scores: Scores, code: int) -> ScaleUse | None:
    """None where this assessor never scored the attribute. Ends: the declared ones, else the panel's extremes."""
    own = np.flatnonzero(scores.assessor == code)
    y = scores.y[own]
    if not y.size:
        return None
    several = np.unique(scores.product[own]).size > 1
    return ScaleUse(
        n=int(y.size),
        mean=float(y.mean()),
        sd=float(y.std(ddof=1)) if y.size > 1 else None,
        low=float(y.min()),
        high=float(y.max()),
        extreme_pct=float(100 * np.mean((y <= scores.low) | (y >= scores.high))),
        constant=bool(y.size >= FEWEST_TO_BE_CONSTANT and several and np.ptp(y) == 0),
    )
