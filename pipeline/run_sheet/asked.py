"""From a study and what was typed to the question a plan answers; what is missing is asked for in one sentence."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

import polars as pl

from analysis.effects.factors import FACTORS
from analysis.planning.factors import SETTABLE, SLACK, PlanFactor
from analysis.planning.request import DesignKind, PlanRequest
from analysis.words import listed
from pipeline.run_sheet.flags import Range
from schemas.problem import ProblemError
from schemas.study import Impossible, Study, StudyFactor

STEPS, UM = "grind_steps_finer", "grind_um_finer"


@dataclass(frozen=True)
class Typed:
    """What was typed, read; None and empty where nothing was said."""

    ranges: tuple[Range, ...] = ()
    coffees: tuple[str, ...] = ()
    method: str | None = None
    design: DesignKind | None = None
    n_runs: int | None = None
    replicates: int = 1
    sessions: int = 1
    resets: int = 1
    hard: tuple[str, ...] = ()
    curves: tuple[str, ...] = ()
    crosses: tuple[str, ...] = ()
    impossible: tuple[Impossible, ...] = ()
    add_to_brewed: bool = False
    held: Mapping[str, float] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class GrindUnit:
    """What one grinder's dial does: its smallest move (None: not declared) and the micrometres of one unit."""

    step: float | None = None
    step_um: float | None = None


def plan_request(typed: Typed, study: Study | None, facts: pl.DataFrame, *, grind: GrindUnit) -> PlanRequest:
    """The plan asked for; what was typed wins over the study. ProblemError names everything that is missing."""
    coffees = typed.coffees or (study.coffees if study else ())
    method = typed.method or (study.method if study else None) or _only_method(facts)
    factors = _factors(typed, study, grind)
    design: DesignKind = "optimal" if typed.add_to_brewed else typed.design or "full"
    if typed.add_to_brewed and typed.design not in (None, "optimal"):
        raise ProblemError("Adding to what was brewed is always optimal: leave out --design.")
    missing = _missing(factors, coffees, method, typed, design, facts)
    if missing:
        raise ProblemError(" ".join(missing))
    known = sorted(facts["coffee_id"].unique().to_list()) if facts.height else []
    if facts.height and typed.add_to_brewed and not set(coffees) & set(known):
        raise ProblemError(f"None of {listed(coffees)} was brewed yet; there are {listed(known)}.")
    return PlanRequest(
        factors=factors,
        coffees=coffees,
        method=method or "",
        design=design,
        n_runs=typed.n_runs,
        replicates=typed.replicates,
        sessions=typed.sessions,
        curves=typed.curves or tuple(factor.name for factor in factors if factor.curve),
        crosses=typed.crosses or _crosses(study, factors),
        impossible=(*(study.impossible if study else ()), *typed.impossible),
        coffee_hard_to_change="coffee_id" in (*typed.hard, *(study.whole_plot if study else ())),
        resets=typed.resets,
    )


def _crosses(study: Study | None, factors: Sequence[PlanFactor]) -> tuple[str, ...]:
    names = {factor.name for factor in factors}
    asked = [cross.replace(UM, STEPS) for cross in (study.crosses if study else ())]
    return tuple(cross for cross in asked if set(cross.split(":")) <= names)


def _only_method(facts: pl.DataFrame) -> str | None:
    methods = facts["method"].unique().to_list() if facts.height else []
    return methods[0] if len(methods) == 1 else None


def _factors(typed: Typed, study: Study | None, grind: GrindUnit) -> tuple[PlanFactor, ...]:
    hard = {*typed.hard, *(study.whole_plot if study else ())}
    declared = {one.name: one for one in planned_factors(study, grind)} if study else {}
    if typed.ranges:
        return tuple(
            _factor(one.name, one.low, one.high, one.step, grind, declared.get(one.name), hard, typed.curves)
            for one in typed.ranges
        )
    asked = [one for one in declared.values() if one.name in SETTABLE and one.name not in typed.held]
    open_ended = [one.name for one in asked if _range(one) is None]
    if open_ended:
        raise ProblemError(
            f"The study does not say from where to where {listed(open_ended)} is to vary: write low and high beside it "
            f"in study.toml, add --factor {open_ended[0]}=LOW:HIGH, or keep it still with --hold {open_ended[0]}=VALUE."
        )
    ends = [(one, _range(one)) for one in asked]
    return tuple(
        _factor(one.name, *between, None, grind, one, hard, typed.curves)
        for one, between in ends
        if between is not None
    )


def planned_factors(study: Study, grind: GrindUnit) -> tuple[StudyFactor, ...]:
    """The study's factors as they are set: micrometres finer become steps of the dial, rounded into the range."""
    return tuple(_in_steps(one, grind) if one.name == UM and grind.step_um else one for one in study.factors)


def _in_steps(one: StudyFactor, grind: GrindUnit) -> StudyFactor:
    step, um = grind.step or 1.0, grind.step_um or 1.0
    ends = _range(one)
    if ends is None:
        return replace(one, name=STEPS, step=None)
    low, high = math.ceil(ends[0] / um / step - SLACK) * step, math.floor(ends[1] / um / step + SLACK) * step
    return replace(one, name=STEPS, step=None, low=round(low, 9), high=round(high, 9), levels=())


def not_planned(study: Study | None, typed: Typed, grind: GrindUnit) -> tuple[str, ...]:
    """Factors of the study that a plan cannot set, to be told of."""
    if study is None or typed.ranges:
        return ()
    return tuple(one.name for one in planned_factors(study, grind) if one.name not in SETTABLE)


def _range(one: StudyFactor) -> tuple[float, float] | None:
    if one.low is not None and one.high is not None:
        return one.low, one.high
    return (min(one.levels), max(one.levels)) if one.levels else None


def _factor(
    name: str,
    low: float,
    high: float,
    step: float | None,
    grind: GrindUnit,
    declared: StudyFactor | None,
    hard: set[str],
    curves: tuple[str, ...],
) -> PlanFactor:
    usual = SETTABLE.get(name, 1.0)
    if name == STEPS and grind.step is not None:
        usual = grind.step
    levels = declared.levels if declared else ()
    inside = tuple(level for level in levels if low <= level <= high)
    return PlanFactor(
        name=name,
        low=low,
        high=high,
        step=step if step is not None else usual,
        settings=inside if step is None and len(inside) > 1 else (),
        hard_to_change=name in hard or bool(declared and declared.hard_to_change),
        curve=name in curves or bool(declared and declared.curve),
    )


def _missing(
    factors: Sequence[PlanFactor],
    coffees: Sequence[str],
    method: str | None,
    typed: Typed,
    design: DesignKind,
    facts: pl.DataFrame,
) -> list[str]:
    """A question for each thing that is not said."""
    asks = []
    if not factors:
        asks.append(
            "What is to vary, from where to where? Add --factor NAME=LOW:HIGH, such as --factor water_temp_c=90:96 "
            f"(may be repeated; {', '.join(name for name in SETTABLE if name in FACTORS)})."
        )
    if not coffees:
        known = sorted(facts["coffee_id"].unique().to_list()) if facts.height else []
        there = f"; there are {listed(known[:8])}" if known else ""
        asks.append(f"Which coffee is brewed? Add --coffee ID (may be repeated{there}).")
    if method is None:
        asks.append("How is it brewed? Add --method, such as --method espresso.")
    if typed.n_runs is None and design == "optimal":
        asks.append("How many brews may there be? Add --runs N.")
    return asks
