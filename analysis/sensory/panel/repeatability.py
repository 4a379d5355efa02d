"""How near an assessor comes to itself: spread of scores of what was the same."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

import numpy as np
from scipy import stats

from analysis.mixed.arrays import CONFIDENCE, Floats, Ints
from analysis.sensory.panel.linear import indicators, left_after
from analysis.sensory.panel.tidy import Scores

Basis = Literal["same cup", "same product", "other sessions"]
BASIS_WORDS: dict[Basis, str] = {
    "same cup": "repeats of one product in one session",
    "same product": "other brews of one product in one session, so the spread between brews is in it",
    "other sessions": "the same products in other sessions, so whatever changed between sessions is in it",
}


@dataclass(frozen=True, slots=True)
class Repeatability:
    """Standard deviation within repeats, in score units, with its degrees of freedom and 95 % interval."""

    sd: float
    df: int
    low: float
    high: float
    basis: Basis


def repeatability(scores: Scores) -> Mapping[int, Repeatability]:
    """By assessor code; nobody where nothing was repeated. All on one footing: the closest repeats that there are.

    Pooled within cells: s^2 = sum of squares about cell means / (n - cells), interval by chi-squared (normal scores).
    """
    for basis, cells in (
        ("same cup", [scores.assessor, scores.point, scores.brew]),
        ("same product", [scores.assessor, scores.product, scores.session]),
    ):
        found = _within(scores, cells, basis)  # type: ignore[arg-type]
        if found:
            return found
    return _across_sessions(scores)


def _within(scores: Scores, cells: list[Ints], basis: Basis) -> dict[int, Repeatability]:
    _, cell = np.unique(np.column_stack(cells), axis=0, return_inverse=True)
    cell = cell.reshape(-1)
    size = np.bincount(cell)
    residual = scores.y - (np.bincount(cell, scores.y) / size)[cell]
    found = {}
    for code in np.unique(scores.assessor):
        own = scores.assessor == code
        df = int(own.sum() - np.unique(cell[own]).size)
        if df > 0:
            found[int(code)] = _interval(float(np.sum(residual[own] ** 2)), df, basis)
    return found


def _across_sessions(scores: Scores) -> dict[int, Repeatability]:
    """What is left of each assessor's scores after products and sessions."""
    found = {}
    for code in np.unique(scores.assessor):
        own = np.flatnonzero(scores.assessor == code)
        if np.unique(scores.session[own]).size < 2:
            continue
        rss, df = left_after(scores.y[own], indicators(scores.product[own], scores.session[own]))
        if df > 0:
            found[int(code)] = _interval(rss, df, "other sessions")
    return found


def _interval(squares: float, df: int, basis: Basis) -> Repeatability:
    ends: Floats = np.sqrt(squares / stats.chi2.ppf([0.5 + CONFIDENCE / 2, 0.5 - CONFIDENCE / 2], df))
    return Repeatability(float(np.sqrt(squares / df)), df, float(ends[0]), float(ends[1]), basis)
