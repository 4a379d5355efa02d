"""Whether one assessor, alone, tells the products apart."""

from __future__ import annotations

import numpy as np

from analysis.mixed.arrays import Floats, Ints
from analysis.mixed.fit import FTest
from analysis.sensory.panel.linear import cell_means, f_of, indicators
from analysis.sensory.panel.tidy import Scores


def discrimination(scores: Scores, code: int) -> FTest | None:
    """F between products of one assessor's scores, sessions taken out; None where repeats or products are lacking.

    Several scores of one brew of a product are one mean first: a brew tasted again is not another brew.
    """
    y, product, session = own_rows(scores, code)
    if np.unique(product).size < 2:
        return None
    return f_of(y, product, beside=indicators(session))


def between_cups(scores: Scores, code: int) -> FTest | None:
    """F between cups, a product in a session, of one assessor's scores; None where no cup was scored twice."""
    own = np.flatnonzero(scores.assessor == code)
    if np.unique(scores.point[own]).size < 2:
        return None
    return f_of(scores.y[own], scores.point[own], beside=np.ones((own.size, 1)))


def own_rows(scores: Scores, code: int) -> tuple[Floats, Ints, Ints]:
    """Scores, products and sessions of one assessor, brews that are nested in a product as their means."""
    own = np.flatnonzero(scores.assessor == code)
    y = scores.y[own]
    product, session, brew = (part[own] for part in (scores.product, scores.session, scores.brew))
    of_product = np.unique(np.column_stack([product, session]), axis=0).shape[0]
    if np.unique(brew).size > of_product:
        y, (product, session, _) = cell_means(y, product, session, brew)
    return y, product, session
