"""Total and direct: what a setting does by whatever way, and what is left of it at equal brew time or channeling."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import polars as pl

from analysis.effects.design import Design, Term, build_design
from analysis.effects.estimate import estimate_effects
from analysis.effects.factors import FACTORS
from analysis.effects.model import group_means
from analysis.effects.request import EffectsRequest
from analysis.effects.rows import choose_rows
from analysis.effects.words import decimals
from analysis.outcomes.weighed_slopes import Floats
from analysis.words import count, listed, signed, span
from schemas.methods import BALANCE_OF_METHOD
from schemas.problem import ProblemError

Row = Mapping[str, Any]
RESAMPLES = 999
FEWEST_BREWS = 20
FEWEST_YES_NO = 5
ASKED = (
    "The total is what a change of the setting does by whatever way; the direct effect is what is left between brews "
    "of equal {outcomes}. Whoever sets the grinder wants the total. The direct effect can be read as a way around the "
    "{outcomes} only if nothing unlogged moves both {outcomes} and the yield; even preparation of the bed does."
)


@dataclass(frozen=True, slots=True)
class Mediated:
    """One setting, per `step`: total effect, direct effect, and what goes with the outcomes, each with 95 % ends.

    `place` says where it holds, in words such as " on G1"; empty for everywhere.
    """

    factor: str
    place: str
    step: float
    unit: str
    total: float
    total_low: float
    total_high: float
    direct: float
    direct_low: float
    direct_high: float
    through: float
    through_low: float
    through_high: float

    def sentence(self) -> str:
        """The three numbers in words."""
        places = decimals(self.total_low, self.total_high)
        change = f"{FACTORS[self.factor].change_words(self.step)}{self.place}"
        said = (
            f"{change}: in total {self._said(self.total, self.total_low, self.total_high, places)}, "
            f"directly {self._said(self.direct, self.direct_low, self.direct_high, places)}; "
            f"the difference, {self._said(self.through, self.through_low, self.through_high, places)}, goes with them"
        )
        return said if self.through_low > 0 or self.through_high < 0 else f"{said} and may be none"

    def _said(self, value: float, low: float, high: float, places: int) -> str:
        return f"{signed(value, places)} {self.unit} (95 % interval {span(low, high, places)})"


@dataclass(frozen=True, slots=True)
class Mediation:
    """Every setting with and without the outcomes in the model, on the same brews."""

    outcomes: tuple[str, ...]
    rows: tuple[Mediated, ...]
    n_brews: int
    n_coffees: int
    n_left_out: int

    @property
    def question(self) -> str:
        """What each of the two numbers answers."""
        return ASKED.format(outcomes=listed([FACTORS[name].noun for name in self.outcomes]))

    def basis(self) -> str:
        """What it rests on."""
        left = f"; {count(self.n_left_out, 'brew')} left out for want of them" if self.n_left_out else ""
        return f"{count(self.n_brews, 'brew')} of {count(self.n_coffees, 'coffee')} with all of these known{left}"


def outcomes_of(brews: pl.DataFrame, method: str, factors: Sequence[str]) -> tuple[str, ...]:
    """Outcomes of this method that the brews can speak about and the main model leaves out.

    Channeling is an outcome everywhere; times are outcomes of percolation, settings of immersion.
    """
    times = BALANCE_OF_METHOD.get(method) != "immersion"
    offered = [
        name
        for name, factor in FACTORS.items()
        if name not in factors and (factor.role == "outcome" or (factor.role == "time" and times))
    ]
    return tuple(name for name in offered if _speaks(brews[name], yes_no=FACTORS[name].is_yes_no))


def _speaks(values: pl.Series, *, yes_no: bool) -> bool:
    known = values.drop_nulls()
    if 2 * known.len() < values.len() or known.n_unique() < 2:
        return False
    return not yes_no or min(known.sum(), known.len() - known.sum()) >= FEWEST_YES_NO


def total_and_direct(
    facts: pl.DataFrame, request: EffectsRequest, outcomes: Sequence[str], *, rng: np.random.Generator
) -> Mediation:
    """Both effects of every setting of `request` on the brews where the `outcomes` are known as well.

    Effects and intervals are those of `estimate_effects`; the difference has a percentile interval from resampling
    brews within their group, with both models fitted to each resample by least squares within groups.
    """
    if not outcomes:
        raise ProblemError("No outcome is named: name one, such as brew_time_s or channeled.")
    direct_request = replace(request, factors=(*request.factors, *outcomes))
    before = choose_rows(facts, request).brews.height
    chosen = choose_rows(facts, direct_request)
    brews = chosen.brews
    if brews.height < FEWEST_BREWS:
        raise ProblemError(
            f"{count(brews.height, 'brew')} have {listed([*request.factors, *outcomes])} all known; to tell total from "
            f"direct takes {FEWEST_BREWS} or more."
        )
    total, direct = estimate_effects(brews, request), estimate_effects(brews, direct_request)
    whole, part = (build_design(brews, asked, chosen.grinders) for asked in (request, direct_request))
    resampled = _through(brews, request, whole, part, rng=rng)
    answers = [
        (term, total.table.row(k, named=True), direct.table.row(_same(part, term), named=True), resampled[:, k])
        for k, term in enumerate(whole.terms)
        if len(term.factors) == 1
    ]
    rows = tuple(_mediated(*answer) for answer in answers)
    return Mediation(tuple(outcomes), rows, brews.height, brews["coffee_id"].n_unique(), before - brews.height)


def _same(design: Design, term: Term) -> int:
    """Where a design has the term that speaks of the same factor and place."""
    return next(k for k, one in enumerate(design.terms) if (one.name, one.place) == (term.name, term.place))


def _mediated(term: Term, whole: Row, part: Row, through: Floats) -> Mediated:
    """A row of the total table beside its like in the direct one; `through` per unit of the term, from resamples."""
    step = 1.0 if term.step is None else term.step
    low, high = np.quantile(through * step, [0.025, 0.975])
    ends = (whole["estimate"], whole["low"], whole["high"], part["estimate"], part["low"], part["high"])
    gone = whole["estimate"] - part["estimate"]
    return Mediated(term.name, term.place, step, whole["unit"], *ends, gone, float(low), float(high))


def _through(
    brews: pl.DataFrame, request: EffectsRequest, total: Design, direct: Design, *, rng: np.random.Generator
) -> Floats:
    """Total less direct coefficient of every column of `total` in each resample of brews within groups, (RESAMPLES, p).

    Columns are centred within groups, so that group levels and what is constant in a group cost nothing.
    """
    codes = brews[request.group].rank("dense").cast(pl.Int64).to_numpy() - 1
    y = brews[request.response].cast(pl.Float64).to_numpy()
    rows_of = [np.flatnonzero(codes == code) for code in range(int(codes.max()) + 1)]
    p, place = total.x.shape[1], [_same(direct, term) for term in total.terms]
    joined = np.column_stack([y, total.x, direct.x])
    found = np.empty((RESAMPLES, p))
    for draw in range(RESAMPLES):
        rows = np.concatenate([rng.choice(own, own.size) for own in rows_of])
        drawn, own = joined[rows], codes[rows]
        inside = drawn - group_means(drawn, own, np.bincount(own))
        whole = np.linalg.lstsq(inside[:, 1 : p + 1], inside[:, 0], rcond=None)[0]
        part = np.linalg.lstsq(inside[:, p + 1 :], inside[:, 0], rcond=None)[0]
        found[draw] = whole - part[place]
    return found
