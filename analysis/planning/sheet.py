"""The rows of a run sheet: brews of a plan in the columns of the brews table, with purges between them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from analysis.planning.dialled import Dial
from analysis.planning.planned import Plan, PlannedRun
from schemas.problem import ProblemError
from schemas.run_sheet import PLANNED, PURGE

Cell = str | float | int | bool | None
SAME_NAME = ("dose_g", "water_temp_c", "brew_time_s", "preinfusion_s", "pressure_bar")
"""Settings that a planned column states as they are."""
RATIOS = {"water_ratio": "planned_water_g", "beverage_ratio": "planned_beverage_g"}


@dataclass(frozen=True)
class SheetRow:
    """One line: `cells` by column of the brews table; a purge is brewed and thrown away, and nothing is typed."""

    cells: Mapping[str, Cell]
    purge: bool = False


@dataclass(frozen=True)
class Recipe:
    """What stays the same in every brew: settings by factor name, and other cells of the brews table."""

    held: Mapping[str, float] = field(default_factory=dict)
    cells: Mapping[str, Cell] = field(default_factory=dict)


def sheet_rows(
    plan: Plan, recipe: Recipe, dial: Dial | None, *, study_id: str, first_brew: int = 1, first_session: int = 1,
    purges: int = 1,
) -> tuple[SheetRow, ...]:  # fmt: skip
    """Rows in the order of brewing; a purge stands before every brew whose coffee or dial setting is new.

    Brews are numbered on from `first_brew` and sessions from `first_session`. Without a dial nothing is said of grind
    and nothing is purged.
    """
    _check_recipe(plan, recipe, dial)
    rows: list[SheetRow] = []
    width = max(2, len(str(first_brew + len(plan.runs) - 1)))
    before: tuple[object, ...] | None = None
    for number, run in enumerate(plan.runs, start=first_brew):
        name = f"{study_id}-{number:0{width}}"
        cells = _cells(plan, run, recipe, dial) | {"brew_id": name, "study_id": study_id, "run_order": run.place}
        session = f"{study_id}-s{first_session + run.session - 1}"
        cells |= {"session_id": session, "block": _block(plan, run, session)}
        now = (run.session, run.coffee_id, cells.get("planned_grind_setting"))
        if dial is not None and now != before:
            rows += [_purge(cells, name, n, purges) for n in range(1, purges + 1)]
        before = now
        rows.append(SheetRow(cells))
    return tuple(rows)


def _check_recipe(plan: Plan, recipe: Recipe, dial: Dial | None) -> None:
    varied = {factor.name for factor in plan.factors}
    both = sorted(varied & set(recipe.held))
    if both:
        raise ProblemError(f"{both[0]} is varied and held still at once; leave out one of the two.")
    asked = varied | set(recipe.held)
    if asked & set(RATIOS) and "dose_g" not in asked:
        raise ProblemError("A ratio needs a dose to become grams on the sheet: add --hold dose_g=18, with your dose.")
    if "grind_steps_finer" in asked and dial is None:
        raise ProblemError("Grind is planned on a grinder's dial: name the grinder with --grinder ID.")


def _cells(plan: Plan, run: PlannedRun, recipe: Recipe, dial: Dial | None) -> dict[str, Cell]:
    at = dict(recipe.held) | {f.name: value for f, value in zip(plan.factors, run.settings, strict=True)}
    cells: dict[str, Cell] = {**recipe.cells, "coffee_id": run.coffee_id, "method": plan.request.method}
    for name in SAME_NAME:
        if name in at:
            cells[f"planned_{name}"] = round(at[name], 6)
    for name, column in RATIOS.items():
        if name in at:
            cells[column] = round(at[name] * at["dose_g"], 1)
    if dial is not None:
        cells["grinder_id"] = dial.grinder_id
        cells["planned_grind_setting"] = dial.setting(run.coffee_id, at.get("grind_steps_finer", 0.0))
    # What is set and not weighed is written as done already: whoever brewed otherwise types over it.
    for planned, column in PLANNED.items():
        if column in ("grind_setting", "water_temp_c", "preinfusion_s", "pressure_bar") and planned in cells:
            cells[column] = cells[planned]
    return cells


def _block(plan: Plan, run: PlannedRun, session: str) -> str:
    return f"{session}-w{run.whole_plot}" if plan.hard else session


def _purge(cells: Mapping[str, Cell], name: str, number: int, purges: int) -> SheetRow:
    kept = ("study_id", "session_id", "coffee_id", "method", "grinder_id", "grind_setting", "planned_grind_setting")
    own: dict[str, Cell] = {column: cells[column] for column in kept if column in cells}
    suffix = "" if purges == 1 else str(number)
    return SheetRow(own | {"brew_id": f"{name}-purge{suffix}", "discarded": True, "void_reason": PURGE}, purge=True)
