"""A brew's result by drawing its inputs many times (JCGM 101:2008), and whether the budget agrees (clause 8)."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal, get_args

import numpy as np
import numpy.typing as npt

from analysis.measurement.budget import brew_budget
from analysis.measurement.component import LEVEL, Budget
from analysis.measurement.measured import MeasuredBrew
from analysis.measurement.model import Result, check_result, evaluate
from analysis.measurement.sources import ErrorSource, error_sources
from analysis.words import number, span
from schemas.problem import ProblemError

Draws = npt.NDArray[np.float64]
IntervalKind = Literal["symmetric", "shortest"]
DRAWS = 200_000
BLOCKS = 10
FEWEST_DRAWS = 10_000
FEW_DF = 30
DRAWS_TOLERANCE = 1 / 5
"""Numerical error of the drawn ends, as a share of the tolerance, up to which they may judge (JCGM 101, 8.2)."""


@dataclass(frozen=True, slots=True)
class DrawnResult:
    """A result by simulation, in its own unit: mean, standard deviation, interval ends at `level`.

    `kind` says whether the interval leaves equal chance on both sides (symmetric) or is the shortest one.
    `end_error` is the numerical standard error of its ends, from the scatter of ten blocks of draws.
    """

    mean: float
    u: float
    low: float
    high: float
    level: float
    kind: IntervalKind
    draws: int
    end_error: float


@dataclass(frozen=True, slots=True)
class Comparison:
    """Budget against simulation: the ends may differ by `tolerance` (clause 8, `digits` significant digits of u).

    `enough_draws` is false where chance in the draws could decide the verdict.
    """

    budget: Budget
    drawn: DrawnResult
    digits: int
    tolerance: float
    low_differs: float
    high_differs: float
    enough_draws: bool

    @property
    def agrees(self) -> bool:
        """Whether both ends lie within the tolerance."""
        return max(self.low_differs, self.high_differs) <= self.tolerance

    @property
    def budget_stands(self) -> bool:
        """Whether the budget's interval may be quoted alone: the ends agree, and scatter is known well enough."""
        return self.agrees and self.budget.df >= FEW_DF

    def sentence(self) -> str:
        """Which interval to quote, and why."""
        budget, drawn = self.budget, self.drawn
        of_budget = f"{span(budget.low, budget.high, 3)} {budget.unit}"
        more = "" if self.enough_draws else " The draws are too few to judge finely: ask for more."
        if self.budget_stands:
            return f"The interval {of_budget} stands: simulation with {drawn.draws:,} draws agrees.{more}"
        why = (
            f"scatter rests on few repeats ({number(budget.df, 0)} degrees of freedom)"
            if self.agrees
            else f"they differ by more than {number(self.tolerance, 4)} {budget.unit}"
        )
        return (
            f"Two intervals: {of_budget} by the budget, {span(drawn.low, drawn.high, 3)} {budget.unit} by simulation "
            f"({drawn.kind}, {drawn.draws:,} draws), because {why}. Quote the simulation.{more}"
        )


def simulate(
    brew: MeasuredBrew,
    *,
    rng: np.random.Generator,
    result: Result = "extraction_yield_pct",
    draws: int = DRAWS,
    kind: IntervalKind = "symmetric",
    level: float = LEVEL,
) -> DrawnResult:
    """Draw every error of a brew and carry it through the full mass balance, not through its slopes."""
    check_result(brew, result)
    if draws < FEWEST_DRAWS:
        raise ProblemError(f"{draws} draws are too few for the ends of an interval. Ask for {FEWEST_DRAWS:,} or more.")
    inputs = {name: np.full(draws, value) for name, value in brew.inputs().items()}
    for source in error_sources(brew):
        error = draw_errors(source, draws=draws, rng=rng)
        for name, weight in source.weights.items():
            inputs[name] = inputs[name] + weight * error
    return summarise(evaluate(brew, inputs, result), kind=kind, level=level)


def draw_errors(source: ErrorSource, *, draws: int, rng: np.random.Generator) -> Draws:
    """Draws of one error, shape (draws,), by what is known of it (JCGM 101, table 1).

    Scatter pooled with few degrees of freedom is Student's t scaled by its u (6.4.9), wider than u itself. One
    display step is rectangular, two of them (tare and load) triangular, the rest normal.
    """
    if source.distribution == "rectangular":
        return source.u * math.sqrt(3) * rng.uniform(-1, 1, draws)
    if source.distribution == "triangular":
        return source.u * math.sqrt(6) * rng.triangular(-1, 0, 1, draws)
    if math.isfinite(source.df):
        return source.u * rng.standard_t(source.df, draws)
    return source.u * rng.standard_normal(draws)


def summarise(values: Draws, *, kind: IntervalKind = "symmetric", level: float = LEVEL) -> DrawnResult:
    """Mean, standard deviation and coverage interval of drawn results (JCGM 101, 7.6 and 7.7)."""
    if kind not in get_args(IntervalKind):
        raise ProblemError(f"An interval is one of {', '.join(get_args(IntervalKind))}, not {kind!r}.")
    low, high = _ends(values, kind, level)
    blocks = [_ends(block, kind, level) for block in np.array_split(values, BLOCKS)]
    end_error = float(np.std(blocks, axis=0, ddof=1).max()) / math.sqrt(BLOCKS)
    return DrawnResult(float(values.mean()), float(values.std(ddof=1)), low, high, level, kind, values.size, end_error)


def _ends(values: Draws, kind: IntervalKind, level: float) -> tuple[float, float]:
    """Ends of an interval that holds `round(level * draws)` of the sorted draws."""
    ordered = np.sort(values)
    held = round(level * ordered.size)
    if kind == "symmetric":
        start = (ordered.size - held) // 2
    else:
        start = int(np.argmin(ordered[held:] - ordered[: ordered.size - held]))
    return float(ordered[start]), float(ordered[start + held])


def numerical_tolerance(u: float, *, digits: int = 2) -> float:
    """Half a unit in the last of `digits` significant digits of a standard uncertainty (JCGM 101, 7.9.2).

    >>> numerical_tolerance(0.35, digits=2), numerical_tolerance(0.35, digits=1)
    (0.005, 0.05)
    """
    if digits not in (1, 2):
        raise ProblemError(f"A standard uncertainty is stated with 1 or 2 digits, not {digits}.")
    if u <= 0:
        return 0.0
    last_place = int(f"{u:.{digits - 1}e}".partition("e")[2]) - (digits - 1)
    return 0.5 * 10.0**last_place


def compare(
    brew: MeasuredBrew,
    *,
    rng: np.random.Generator,
    result: Result = "extraction_yield_pct",
    draws: int = DRAWS,
    kind: IntervalKind = "symmetric",
    digits: int = 1,
    level: float = LEVEL,
) -> Comparison:
    """Budget and simulation of one result side by side, with the verdict of JCGM 101, clause 8."""
    budget = brew_budget(brew, result=result, level=level)
    drawn = simulate(brew, rng=rng, result=result, draws=draws, kind=kind, level=level)
    tolerance = numerical_tolerance(budget.u, digits=digits)
    return Comparison(
        budget=budget,
        drawn=drawn,
        digits=digits,
        tolerance=tolerance,
        low_differs=abs(budget.low - drawn.low),
        high_differs=abs(budget.high - drawn.high),
        enough_draws=drawn.end_error <= tolerance * DRAWS_TOLERANCE,
    )
