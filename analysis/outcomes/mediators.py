"""Total and direct: what a setting does by whatever way, and what is left of it at equal brew time or channeling."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import polars as pl

from analysis.effects.estimate import EffectsResult, estimate_effects
from analysis.effects.factors import FACTORS, difference_unit
from analysis.effects.request import EffectsRequest
from analysis.effects.rows import choose_rows
from analysis.effects.words import decimals
from analysis.outcomes.weighed_slopes import Floats
from analysis.words import count, listed, signed, span
from schemas.methods import BALANCE_OF_METHOD
from schemas.problem import ProblemError

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
    """One setting, per `step`: total effect, direct effect, and what goes with the outcomes, each with 95 % ends."""

    factor: str
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
        change = FACTORS[self.factor].change_words(self.step)
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
    brews = choose_rows(facts, direct_request).brews
    if brews.height < FEWEST_BREWS:
        raise ProblemError(
            f"{count(brews.height, 'brew')} have {listed([*request.factors, *outcomes])} all known; to tell total from "
            f"direct takes {FEWEST_BREWS} or more."
        )
    total, direct = estimate_effects(brews, request), estimate_effects(brews, direct_request)
    resampled = _through(brews, request, outcomes, rng=rng)
    rows = tuple(
        _mediated(name, request.step(name), total, direct, resampled[:, k] * request.step(name))
        for k, name in enumerate(request.factors)
        if _row(total, name) is not None and _row(direct, name) is not None
    )
    coffees = brews["coffee_id"].n_unique()
    return Mediation(tuple(outcomes), rows, brews.height, coffees, before - brews.height)


def _row(result: EffectsResult, name: str) -> dict[str, float] | None:
    """The single row of a factor; None where each grinder has its own."""
    rows = result.table.filter(pl.col("term") == name)
    return rows.row(0, named=True) if rows.height == 1 else None


def _mediated(name: str, step: float, total: EffectsResult, direct: EffectsResult, through: Floats) -> Mediated:
    whole, part = _row(total, name), _row(direct, name)
    if whole is None or part is None:
        raise ProblemError(f"{name} has an effect for each grinder; ask for one grinder at a time.")
    low, high = np.quantile(through, [0.025, 0.975])
    ends = (whole["estimate"], whole["low"], whole["high"], part["estimate"], part["low"], part["high"])
    unit = difference_unit(total.request.response)
    return Mediated(name, step, unit, *ends, whole["estimate"] - part["estimate"], float(low), float(high))


def _through(
    brews: pl.DataFrame, request: EffectsRequest, outcomes: Sequence[str], *, rng: np.random.Generator
) -> Floats:
    """Total less direct slope of every factor in each resample of brews within groups, shape (RESAMPLES, k)."""
    codes = brews[request.group].rank("dense").cast(pl.Int64).to_numpy() - 1
    columns = [brews[name].cast(pl.Float64).to_numpy() for name in (*request.factors, *outcomes)]
    x, y = np.column_stack(columns), brews[request.response].cast(pl.Float64).to_numpy()
    rows_of = [np.flatnonzero(codes == code) for code in range(int(codes.max()) + 1)]
    k = len(request.factors)
    found = np.empty((RESAMPLES, k))
    for draw in range(RESAMPLES):
        rows = np.concatenate([rng.choice(own, own.size) for own in rows_of])
        inside = _centred(np.column_stack([y[rows], x[rows]]), codes[rows])
        total = np.linalg.lstsq(inside[:, 1 : k + 1], inside[:, 0], rcond=None)[0]
        direct = np.linalg.lstsq(inside[:, 1:], inside[:, 0], rcond=None)[0]
        found[draw] = total - direct[:k]
    return found


def _centred(values: Floats, codes: np.ndarray) -> Floats:
    """Each column less its mean within groups."""
    sizes = np.bincount(codes)
    sums = np.zeros((sizes.size, values.shape[1]))
    np.add.at(sums, codes, values)
    return np.asarray(values - (sums / np.maximum(sizes, 1)[:, None])[codes])
