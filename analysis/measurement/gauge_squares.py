"""Mean squares of a crossed study and what each is expected to be, for full and for gappy tables alike.

Brews are judged with readers taken out and readers with brews taken out, the interaction with both (fitting constants:
Searle, Casella and McCulloch 1992, section 5.5). On a full table this is the textbook analysis of variance; with
readings missing, the mean squares still have exact expectations but are only nearly independent chi-squares.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal, TypeVar

import numpy as np
from scipy import stats

from analysis.effects.fit import Floats, Ints
from analysis.measurement.gauge_table import GaugeTable

Term = Literal["brew", "reader", "interaction", "repeat"]
Amount = TypeVar("Amount", float, Floats)
RANK_TOLERANCE = 1e-9
ROUNDING = 1e-14
"""A sum of squares below this share of the total of squared readings is rounding of decimal fractions: zero."""


@dataclass(frozen=True)
class MeanSquares:
    """K terms: `df` (K,), `squares` (K, runs) sums of squares in (% TDS)^2, `expected` (K, K).

    `expected[k, j]` says how much one unit of term j's variance adds to the expected mean square of term k.
    """

    terms: tuple[Term, ...]
    df: Floats
    squares: Floats
    expected: Floats

    @property
    def mean(self) -> Floats:
        """Mean squares, shape (K, runs)."""
        return self.squares / self.df[:, None]

    def weights(self) -> dict[str, Floats]:
        """Each variance of interest as weights (K,) on the mean squares, by name; sums are sums of their parts."""
        each = dict(zip(self.terms, np.linalg.inv(self.expected), strict=True))
        return with_sums(each)

    def place(self, term: Term) -> int:
        """Row of a term."""
        return self.terms.index(term)


def with_sums(parts: Mapping[Term, Amount]) -> dict[str, Amount]:
    """The parts under their names in a gauge study, with reproducibility, gauge and total added up.

    >>> with_sums({"repeat": 1.0, "reader": 2.0, "brew": 7.0})["total"]
    10.0
    """
    nothing = 0 * parts["repeat"]
    found: dict[str, Amount] = {"repeatability": parts["repeat"]}
    if "reader" in parts:
        found["reader"] = parts["reader"]
        if "interaction" in parts:
            found["interaction"] = parts["interaction"]
        found["reproducibility"] = parts["reader"] + parts.get("interaction", nothing)
    found["gauge"] = found["repeatability"] + found.get("reproducibility", nothing)
    if "brew" in parts:
        found["brew_to_brew"] = parts["brew"]
        found["total"] = found["gauge"] + parts["brew"]
    return found


def indicator(codes: Ints) -> Floats:
    """One column of zeros and ones per code that occurs, shape (n, levels)."""
    levels, place = np.unique(codes, return_inverse=True)
    return np.eye(levels.size)[place]


def indicators(table: GaugeTable) -> dict[Term, Floats]:
    """The columns of every term but the repeats."""
    cells = table.brew * len(table.readers) + table.reader
    return {"brew": indicator(table.brew), "reader": indicator(table.reader), "interaction": indicator(cells)}


def _basis(columns: Floats) -> Floats:
    """Orthonormal basis of a column space."""
    left, sizes, _ = np.linalg.svd(columns, full_matrices=False)
    return np.asarray(left[:, sizes > RANK_TOLERANCE * sizes.max()]) if sizes.size else columns


def _beyond(columns: Floats, before: Floats) -> Floats:
    """Orthonormal basis of what `columns` add to the space of `before`; no column where they add nothing."""
    known = _basis(before)
    rest = columns - known @ (known.T @ columns)
    left, sizes, _ = np.linalg.svd(rest, full_matrices=False)
    return np.asarray(left[:, sizes > RANK_TOLERANCE * np.linalg.norm(columns)])


def interaction_df(table: GaugeTable) -> tuple[int, int]:
    """Degrees of freedom of the interaction, and of the repeats within brew and reader."""
    counts = table.counts
    cells = int(np.sum(counts > 0))
    return cells - len(table.brews) - len(table.readers) + 1, int(counts.sum()) - cells


def mean_squares(table: GaugeTable, tds_pct: Floats, *, with_interaction: bool) -> MeanSquares:
    """Mean squares of readings `tds_pct` (n,) or (n, runs), laid out as in `table`."""
    z = indicators(table)
    several = [term for term, names in (("brew", table.brews), ("reader", table.readers)) if len(names) > 1]
    ones = np.ones((table.tds_pct.size, 1))
    terms: list[Term] = [term for term in ("brew", "reader") if term in several]
    bases = [
        _beyond(z[term], np.column_stack([ones, *(z[other] for other in terms if other != term)])) for term in terms
    ]
    known = np.column_stack([ones, *(z[term] for term in terms)])
    if with_interaction:
        bases.append(_beyond(z["interaction"], known))
        terms.append("interaction")
        known = z["interaction"]
    y = (tds_pct - tds_pct.mean(axis=0)).reshape(table.tds_pct.size, -1)
    fitted = _basis(known)
    rest = y - fitted @ (fitted.T @ y)
    squares = np.stack([*(np.sum((basis.T @ y) ** 2, axis=0) for basis in bases), np.sum(rest**2, axis=0)])
    noise = ROUNDING * np.sum(tds_pct.reshape(table.tds_pct.size, -1) ** 2, axis=0)
    df = np.array([*(basis.shape[1] for basis in bases), y.shape[0] - fitted.shape[1]], dtype=np.float64)
    expected = np.ones((len(terms) + 1, len(terms) + 1))
    for k in range(len(terms) + 1):
        for j, term in enumerate(terms):
            expected[k, j] = np.sum((bases[k].T @ z[term]) ** 2) / df[k] if k < len(terms) else 0.0
    expected[np.abs(expected) < RANK_TOLERANCE] = 0.0
    return MeanSquares((*terms, "repeat"), df, np.where(squares > noise, squares, 0.0), expected)


@dataclass(frozen=True)
class AnovaRow:
    """One row of the analysis of variance; `against` is the term whose mean square is the denominator of `f`.

    `f` and `p_value` are None where there is no denominator: for the repeats, and for brews and readers where missing
    readings leave no single mean square to judge them by.
    """

    term: Term
    squares: float
    df: int
    mean: float
    against: str = ""
    f: float | None = None
    p_value: float | None = None


def anova(found: MeanSquares, *, balanced: bool) -> tuple[AnovaRow, ...]:
    """The rows of one study: brews and readers are judged against the interaction where the model has it.

    Judging them against the repeats instead would call any unevenness between brew and reader a difference.
    """
    rows = []
    for k, term in enumerate(found.terms):
        against: Term = "interaction" if term in ("brew", "reader") and "interaction" in found.terms else "repeat"
        row = AnovaRow(term, float(found.squares[k, 0]), int(found.df[k]), float(found.mean[k, 0]))
        below = float(found.mean[found.place(against), 0])
        if term != "repeat" and below > 0 and (balanced or against == "repeat"):
            f = row.mean / below
            p = float(stats.f.sf(f, found.df[k], found.df[found.place(against)]))
            row = AnovaRow(term, row.squares, row.df, row.mean, against, f, p)
        rows.append(row)
    return tuple(rows)
