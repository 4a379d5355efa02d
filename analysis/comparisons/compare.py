"""From brew facts to a comparison: a mean per side, a difference per pair, and what each of them settles."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import combinations
from typing import Literal

import numpy as np
import polars as pl
from scipy import stats

from analysis.comparisons.cautions import other_settings, partly_known, unlike_scatter
from analysis.comparisons.request import CompareRequest, check_compare_request
from analysis.comparisons.rows import ComparedRows, choose_sides
from analysis.comparisons.sides_model import SidesModel, fit_sides
from analysis.comparisons.simultaneous import dunnett, equivalence_p, tukey
from analysis.mixed.arrays import CONFIDENCE, Floats
from analysis.multiple import holm

LEVEL = 1 - CONFIDENCE
Settled = Literal["differ", "differ by no more than matters", "no more than matters", "open"]


@dataclass(frozen=True, slots=True)
class SideMean:
    """One side: its brews, their plain mean and standard deviation, and its mean by the model at the same coffees."""

    side: str
    n_brews: int
    n_coffees: int
    mean: float
    sd: float | None
    at_same_coffees: float


@dataclass(frozen=True, slots=True)
class Difference:
    """`side` less `against`: the ends and p allow for all comparisons made; `alike_p` for all questions of alikeness.

    `alike_p` is None where no difference that matters was declared. `needed` is the number of brews a side with which a
    difference of that size would be found in 8 of 10 such comparisons, all comparisons allowed for as here.
    """

    side: str
    against: str
    n_brews: tuple[int, int]
    estimate: float
    std_error: float
    df: float
    low: float
    high: float
    p_value: float
    alike_p: float | None
    needed: int | None

    @property
    def settled(self) -> Settled:
        """What these brews settle of this pair."""
        differ = self.low > 0 or self.high < 0
        alike = self.alike_p is not None and self.alike_p < LEVEL
        if differ:
            return "differ by no more than matters" if alike else "differ"
        return "no more than matters" if alike else "open"


@dataclass(frozen=True)
class ComparisonResult:
    """A comparison: its sides, its pairs, the model, and whom the intervals speak for.

    `spread` is the standard deviation of brews of one side at one coffee, session and operator, in the response's
    unit; `notes` what the reader must know beside the numbers.
    """

    request: CompareRequest
    method: str
    sides: tuple[SideMean, ...]
    differences: tuple[Difference, ...]
    scope: str
    model: str
    spread: float
    n_brews: int
    n_coffees: int
    left_out: tuple[str, ...]
    notes: tuple[str, ...]


def compare_sides(facts: pl.DataFrame, request: CompareRequest, *, rng: np.random.Generator) -> ComparisonResult:
    """Compare the sides of `request` on `facts` (FACT_COLUMNS); ProblemError says why when that cannot be done.

    `rng` starts the integral that Dunnett's comparisons take.
    """
    check_compare_request(request)
    rows = choose_sides(facts, request)
    model = fit_sides(rows, request)
    pairs = _pairs(rows, request)
    coffees = rows.brews["coffee_id"].n_unique()
    return ComparisonResult(
        request=request,
        method=rows.method,
        sides=tuple(_side(rows, request, model, k) for k in range(len(rows.sides))),
        differences=_differences(rows, request, model, pairs, rng=rng),
        scope=_scope(model, coffees),
        model=model.words,
        spread=model.fit.sigma,
        n_brews=rows.brews.height,
        n_coffees=coffees,
        left_out=rows.left_out,
        notes=(*other_settings(rows, request), *partly_known(rows, request), *unlike_scatter(rows, request)),
    )


def _scope(model: SidesModel, coffees: int) -> str:
    if model.like_these:
        return "for coffees like these"
    return "for this coffee" if coffees == 1 else "for these coffees"


def _pairs(rows: ComparedRows, request: CompareRequest) -> list[tuple[int, int]]:
    """Side and what it is held against: each against one, or every later side against every earlier."""
    if request.against is None:
        return [(second, first) for first, second in combinations(range(len(rows.sides)), 2)]
    base = rows.sides.index(request.against)
    return [(side, base) for side in range(len(rows.sides)) if side != base]


def _side(rows: ComparedRows, request: CompareRequest, model: SidesModel, k: int) -> SideMean:
    own = rows.brews.filter(pl.Series(rows.codes == k))
    values = own[request.response].cast(pl.Float64).to_numpy()
    return SideMean(
        side=rows.sides[k],
        n_brews=own.height,
        n_coffees=own["coffee_id"].n_unique(),
        mean=float(values.mean()),
        sd=float(values.std(ddof=1)) if own.height > 1 else None,
        at_same_coffees=float(model.fit.estimate[k]),
    )


def _differences(
    rows: ComparedRows,
    request: CompareRequest,
    model: SidesModel,
    pairs: list[tuple[int, int]],
    *,
    rng: np.random.Generator,
) -> tuple[Difference, ...]:
    contrasts = np.array([model.contrast(*pair) for pair in pairs])
    fit = model.fit
    estimates = contrasts @ fit.estimate
    covariance = contrasts @ fit.covariance @ contrasts.T
    errors = np.sqrt(np.diag(covariance))
    df = [fit.df(contrast) for contrast in contrasts]
    t = list(estimates / errors)
    correlation = covariance / np.outer(errors, errors)
    if request.against is None:
        adjusted = tukey(t, df, n_means=len(rows.sides))
    else:
        adjusted = dunnett(t, df, correlation=correlation, rng=rng)
    alike = _alike(estimates, errors, df, request.margin)
    counts = rows.counts()
    wider = [one.reach / float(stats.t.isf(LEVEL / 2, own)) for one, own in zip(adjusted, df, strict=True)]
    return tuple(
        Difference(
            side=rows.sides[first],
            against=rows.sides[second],
            n_brews=(counts[first], counts[second]),
            estimate=float(estimates[k]),
            std_error=float(errors[k]),
            df=float(df[k]),
            low=float(estimates[k] - adjusted[k].reach * errors[k]),
            high=float(estimates[k] + adjusted[k].reach * errors[k]),
            p_value=adjusted[k].p_value,
            alike_p=None if alike is None else float(alike[k]),
            needed=brews_needed(fit.sigma, request.margin, sides=len(rows.sides), wider=wider[k]),
        )
        for k, (first, second) in enumerate(pairs)
    )


def _alike(estimates: Floats, errors: Floats, df: list[float], margin: float | None) -> Floats | None:
    """Holm-adjusted p of every pair's two one-sided tests; None without a margin."""
    if margin is None:
        return None
    return holm([equivalence_p(e, u, own, margin=margin) for e, u, own in zip(estimates, errors, df, strict=True)])


def brews_needed(sd: float, margin: float | None, *, sides: int = 2, wider: float = 1.0) -> int | None:
    """Brews of each of `sides` that find a difference of `margin` with 80 % power at two-sided 5 %; `sd` of brews.

    By the non-central t (Cohen 1988, chapter 2), the spread pooled over sides and the critical value of t `wider` by
    what allowing for other comparisons takes (1 for one comparison); None without a margin.

    >>> brews_needed(1.0, 0.5), brews_needed(1.0, 0.8)
    (64, 26)
    """
    if margin is None or sd <= 0:
        return None
    n = 2
    while _power(n, margin / sd, sides, wider) < 0.8:
        n = max(n + 1, math.floor(n * 1.05)) if n > 200 else n + 1
    return n


def _power(n: int, effect: float, sides: int, wider: float) -> float:
    df, shift = sides * (n - 1), effect * math.sqrt(n / 2)
    critical = wider * stats.t.ppf(1 - LEVEL / 2, df)
    return float(stats.nct.sf(critical, df, shift) + stats.nct.cdf(-critical, df, shift))
