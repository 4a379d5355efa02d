"""Make a plan for a project folder: its brews, grinders and study in, a report and a run sheet out."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
import polars as pl

from analysis.dial import smallest_part
from analysis.planning.augment import Augmented, augment, brewed_rows
from analysis.planning.dialled import Dial, freeze_block, make_dial, on_dial
from analysis.planning.noise import Noise, check_asked, given_noise, lab_noise
from analysis.planning.plan import make_plan
from analysis.planning.planned import Plan
from analysis.planning.request import PlanRequest
from analysis.planning.sheet import Cell, Recipe, sheet_rows
from analysis.planning.tells import what_it_tells
from analysis.words import count, listed
from pipeline.run_sheet.asked import STEPS, UM, GrindUnit, Typed, not_planned, plan_request
from pipeline.run_sheet.bench import Bench
from pipeline.run_sheet.report import Planned
from pipeline.run_sheet.varied import varied_settings
from schemas.lab import GrindReference
from schemas.problem import ProblemError
from schemas.study import Study

UNNAMED = "plan"
RESPONSE = "extraction_yield_pct"
MANY_PURGES = 12


@dataclass(frozen=True)
class Wanted:
    """What is asked for besides the plan's own question."""

    study_id: str | None = None
    grinder_id: str | None = None
    references: Mapping[str, str] = field(default_factory=dict)
    response: str | None = None
    difference: float | None = None
    spread: float | None = None
    purges: int = 1
    seed: int = 1
    cells: Mapping[str, Cell] = field(default_factory=dict)


def make_planned(bench: Bench, study: Study | None, typed: Typed, wanted: Wanted) -> Planned:
    """The plan with its rows and what it can tell; ProblemError where it cannot be made."""
    grinder = _grinder(bench, typed, study, wanted)
    unit = GrindUnit(smallest_part(_of(bench, grinder, "dial")), _of(bench, grinder, "step_um"))
    request = _settable(plan_request(typed, study, bench.facts, grind=unit), typed)
    dial = _dial(bench, request, study, wanted, grinder)
    facts = on_dial(bench.facts, dial) if dial and _varies_grind(request) else bench.facts
    response = wanted.response or (study.response if study else RESPONSE)
    difference = wanted.difference or (study.difference_that_matters if study else None)
    check_asked(response, difference)
    noise, why_not = _noise(facts, request, response, wanted.spread)
    rng = np.random.default_rng(wanted.seed)
    plan, added = _plan(facts, request, noise, typed, difference, rng)
    study_id = wanted.study_id or (study.study_id if study else UNNAMED)
    rows = sheet_rows(
        plan,
        Recipe(typed.held, dict(wanted.cells)),
        dial,
        study_id=study_id,
        first_brew=_next(bench.facts, "brew_id", rf"^{re.escape(study_id)}-(\d+)$"),
        first_session=_next(bench.facts, "session_id", rf"^{re.escape(study_id)}-s(\d+)$"),
        purges=wanted.purges,
    )
    tells = (
        added.after if added else what_it_tells(plan.model, plan.layout(), noise or Noise(1.0), difference=difference)
    )
    return Planned(
        plan=plan,
        rows=rows,
        tells=tells,
        noise=noise,
        why_not=why_not,
        difference=difference,
        response=response,
        seed=wanted.seed,
        added=added,
        remarks=_remarks(request, dial, sum(row.purge for row in rows), not_planned(study, typed, unit)),
        freeze=freeze_block(dial, request.method) if dial else "",
    )


def _plan(
    facts: pl.DataFrame,
    request: PlanRequest,
    noise: Noise | None,
    typed: Typed,
    difference: float | None,
    rng: np.random.Generator,
) -> tuple[Plan, Augmented | None]:
    if not typed.add_to_brewed:
        return make_plan(request, rng=rng), None
    brewed = brewed_rows(facts, request.factors, method=request.method, coffees=request.coffees)
    added = augment(request, brewed, noise or Noise(1.0), rng=rng, difference=difference)
    return added.plan, added


def _noise(facts: pl.DataFrame, request: PlanRequest, response: str, spread: float | None) -> tuple[Noise | None, str]:
    """The noise to reckon with, or why there is none: a plan can be made without."""
    if spread is not None:
        return given_noise(spread, response), ""
    names = varied_settings(facts, request.method, tuple(factor.name for factor in request.factors))
    brewed = [coffee for coffee in request.coffees if coffee in set(facts["coffee_id"])]
    try:
        return lab_noise(facts, response=response, method=request.method, settings=names, coffees=brewed), ""
    except ProblemError as error:
        return None, str(error)


def _grinder(bench: Bench, typed: Typed, study: Study | None, wanted: Wanted) -> str | None:
    """The grinder named, or the only one these coffees were brewed on; None where grind is not planned."""
    if wanted.grinder_id is not None:
        if wanted.grinder_id not in set(bench.grinders["grinder_id"]):
            known = listed(sorted(bench.grinders["grinder_id"])) or "none"
            raise ProblemError(f"There is no grinder {wanted.grinder_id} in the grinders table; there is {known}.")
        return wanted.grinder_id
    named = {one.name for one in typed.ranges} | set(typed.held)
    named |= set(study.factor_names) if study and not typed.ranges else set()
    coffees = typed.coffees or (study.coffees if study else ())
    used = bench.facts.filter(pl.col("coffee_id").is_in(list(coffees)) & pl.col("grinder_id").is_not_null())
    if method := typed.method or (study.method if study else None):
        used = used.filter(pl.col("method") == method)
    grinders = sorted(used["grinder_id"].unique().to_list())
    grind = named & {STEPS, UM}
    if len(grinders) == 1 and grind:
        return str(grinders[0])
    if grind and coffees:
        found = f" {listed(grinders)} were used for these coffees." if grinders else ""
        raise ProblemError(
            f"On which grinder? Add --grinder ID: dial steps of two grinders are different units.{found}"
        )
    return None


def _of(bench: Bench, grinder_id: str | None, column: str) -> Any:
    """What the grinders table says of a grinder; None where it says nothing."""
    found = bench.grinders.filter(pl.col("grinder_id").eq_missing(pl.lit(grinder_id)))[column].to_list()
    return found[0] if found else None


def _dial(
    bench: Bench, request: PlanRequest, study: Study | None, wanted: Wanted, grinder_id: str | None
) -> Dial | None:
    if grinder_id is None:
        return None
    typed = [GrindReference(c, grinder_id, request.method, s) for c, s in wanted.references.items()]
    return make_dial(
        grinder_id,
        finer_is=_of(bench, grinder_id, "finer_is"),
        dial=_of(bench, grinder_id, "dial"),
        coffees=request.coffees,
        method=request.method,
        references=[*bench.references, *(study.grind_reference if study else ()), *typed],
        facts=bench.facts,
    )


def _settable(request: PlanRequest, typed: Typed) -> PlanRequest:
    """A step that was left to us may not be wider than the range."""
    given = {one.name for one in typed.ranges if one.step is not None}
    factors = tuple(
        replace(f, step=f.high - f.low) if f.name not in given and f.step > f.high - f.low > 0 else f
        for f in request.factors
    )
    return replace(request, factors=factors)


def _next(facts: pl.DataFrame, column: str, pattern: str) -> int:
    """One more than the highest number that this column has under the study's name."""
    numbers = facts[column].str.extract(pattern).cast(pl.Int64, strict=False).drop_nulls().to_list()
    return 1 + max(numbers, default=0)


def _varies_grind(request: PlanRequest) -> bool:
    return any(factor.name == STEPS for factor in request.factors)


def _remarks(request: PlanRequest, dial: Dial | None, purges: int, no_settings: tuple[str, ...]) -> tuple[str, ...]:
    said = [f"Not planned, for a run sheet cannot ask for it: {listed(no_settings)}."] if no_settings else []
    grind = next((factor for factor in request.factors if factor.name == STEPS), None)
    if dial is not None and grind is not None:
        way = "lower" if dial.finer_is == "lower" else "higher"
        said.append(
            f"Grind in steps of {grind.step:g} on the dial of {dial.grinder_id}, where {way} numbers are finer."
        )
    if purges:
        said.append(f"{count(purges, 'purge')} after changes of grind or coffee stand on the sheet; they are no brews.")
    if purges > MANY_PURGES:
        said.append("To purge less, keep still what makes you purge: --hard coffee_id, --hard grind_steps_finer.")
    return tuple(said)
