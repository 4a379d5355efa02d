"""Which variance components a panel's scores can show: assessors, sessions, brews, and what they do to products."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analysis.mixed.arrays import Floats, Ints
from analysis.mixed.model import RandomPart
from analysis.sensory.panel.tidy import Scores

FEWEST_SESSIONS = 3
"""With two sessions their spread is not worth estimating: then they are a fixed step."""


@dataclass(frozen=True)
class Layout:
    """Random `parts` that can be told apart, and whether the two `sessions` are a fixed step instead."""

    parts: tuple[RandomPart, ...]
    session_step: Floats | None


def layout(scores: Scores) -> Layout:
    """Parts by name: assessor, product by assessor, session, product by session, assessor by session, brew.

    Left out is what the rows cannot show: a division that is the same as an earlier one, as the products, or as rows.
    """
    several = np.unique(scores.session).size
    crossed = not _made_of(scores.session, scores.product)
    step = None
    wanted = {"assessor": [scores.assessor], "product by assessor": [scores.assessor, scores.product]}
    if several > 1 and crossed:
        if several >= FEWEST_SESSIONS:
            wanted["session"] = [scores.session]
        else:
            step = (scores.session == scores.session.max()).astype(np.float64)
    if several > 1:
        wanted["product by session"] = [scores.product, scores.session]
        wanted["assessor by session"] = [scores.assessor, scores.session]
    wanted["brew"] = [scores.brew]
    kept: list[RandomPart] = []
    seen = [np.arange(scores.y.size), scores.product]
    for name, codes in wanted.items():
        part = division(*codes)
        if part.max() > 0 and not any(_made_of(part, old) and _made_of(old, part) for old in seen):
            seen.append(part)
            kept.append(RandomPart(name, part, np.ones(part.size)))
    return Layout(tuple(kept), step)


def division(*codes: Ints) -> Ints:
    """Codes 0..m-1 (n,) of the combinations that occur."""
    return np.asarray(np.unique(np.column_stack(codes), axis=0, return_inverse=True)[1].reshape(-1), dtype=np.int64)


def _made_of(coarse: Ints, fine: Ints) -> bool:
    """Whether every level of `fine` lies within one level of `coarse`."""
    return bool(division(coarse, fine).max() == division(fine).max())
