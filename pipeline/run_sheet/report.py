"""A plan as it is shown: what is brewed, what it can tell, what it cannot, and the runs."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import polars as pl

from analysis.effects.factors import difference_unit
from analysis.planning.augment import Augmented
from analysis.planning.noise import Noise
from analysis.planning.planned import Plan
from analysis.planning.sheet import SheetRow
from analysis.planning.tells import Tell
from analysis.planning.words import added_sentences, cannot_sentences, half_width_words, plan_sentences, term_words
from analysis.words import digits_for, number
from pipeline.report import Part, Report, as_data
from pipeline.run_sheet.sheet import ASKED, RunSheet


@dataclass(frozen=True)
class Planned:
    """Everything a plan's report tells. `noise` is None where the lab's own could not be had, `why_not` says why."""

    plan: Plan
    rows: Sequence[SheetRow]
    tells: tuple[Tell, ...] | None
    noise: Noise | None
    why_not: str
    difference: float | None
    response: str
    seed: int
    added: Augmented | None = None
    remarks: tuple[str, ...] = ()
    freeze: str = ""


def plan_report(planned: Planned) -> Report:
    """The plan as parts for the screen, rows for a file, and an object for programs."""
    plan, unit = planned.plan, difference_unit(planned.response)
    parts = [Part("", (*plan_sentences(plan, seed=planned.seed), *planned.remarks))]
    if planned.freeze:
        parts.append(Part("To keep the zero of the grind where it is, put into lab.toml", (), block=planned.freeze))
    if planned.added is not None:
        parts.append(Part("What the further brews change", added_sentences(planned.added, planned.response)))
    parts.append(_can(planned, unit))
    if cannot := _cannot(planned):
        parts.append(Part("What it cannot tell", cannot))
    parts.append(_runs(planned.rows))
    return Report(parts, _frame(planned.rows), _data(planned, unit))


def _cannot(planned: Planned) -> tuple[str, ...]:
    return cannot_sentences(planned.plan, planned.tells if planned.noise else (), alone=planned.added is None)


def _can(planned: Planned, unit: str) -> Part:
    title = "What it can tell"
    if planned.noise is None:
        return Part(title, (planned.why_not, "The plan stands all the same; only its intervals are not known."))
    said = [planned.noise.said, f"Expected, in {unit}, from the low to the high setting:"]
    seen = f"chance to see {number(planned.difference, digits_for([planned.difference]))}" if planned.difference else ""
    headers = ["what", "95 % interval", "seen 4 in 5 if", *([seen] if seen else []), "degrees of freedom"]
    rows = []
    for tell in planned.tells or ():
        chance = [] if not seen else [f"{100 * tell.chance:.0f} %" if tell.chance is not None else ""]
        what = term_words(planned.plan.model, planned.plan.factors, tell.name)
        smallest = number(tell.smallest, digits_for([tell.smallest])) if tell.rests_on > 0 else "never"
        rows.append((what, half_width_words(tell.half_width), smallest, *chance, f"{tell.rests_on:.0f}"))
    return Part(title, said, headers, rows, right=headers[1:])


def _runs(rows: Sequence[SheetRow]) -> Part:
    brews = [row.cells for row in rows if not row.purge]
    asked = [one for one in ASKED if any(one[0] in cells for cells in brews)]
    headers = ["brew", "session", "coffee", *(f"{word}, {unit}" if unit else word for _, word, unit in asked)]
    shown = [
        (str(c["brew_id"]), str(c["session_id"]), str(c["coffee_id"]), *(_cell(c.get(name)) for name, _, _ in asked))
        for c in brews
    ]
    return Part("The brews, in their order", (), headers, shown, right=headers[3:])


def _cell(value: object) -> str:
    return f"{value:g}" if isinstance(value, float) else "" if value is None else str(value)


def _frame(rows: Sequence[SheetRow]) -> pl.DataFrame:
    brews = [dict(row.cells) for row in rows if not row.purge]
    columns = list(dict.fromkeys(name for cells in brews for name in cells))
    return pl.DataFrame({name: [cells.get(name) for cells in brews] for name in columns})


def _data(planned: Planned, unit: str) -> dict[str, Any]:
    plan = planned.plan
    data = {
        "design": plan.request.design,
        "method": plan.request.method,
        "seed": planned.seed,
        "factors": plan.factors,
        "response": planned.response,
        "unit": unit,
        "difference_that_matters": planned.difference,
        "noise": planned.noise or {"said": planned.why_not},
        "can_tell": planned.tells or (),
        "cannot_tell": _cannot(planned),
        "hard_to_change": plan.hard,
        "sentences": plan_sentences(plan, seed=planned.seed),
        "brews": [dict(row.cells) for row in planned.rows if not row.purge],
        "purges": sum(row.purge for row in planned.rows),
    }
    if planned.added is not None:
        data["added"] = {
            "n_brewed": planned.added.n_brewed,
            "before": planned.added.before,
            "after": planned.added.after,
            "pairs": planned.added.pairs,
            "sentences": added_sentences(planned.added, planned.response),
        }
    return dict(as_data(data))


def run_sheet(planned: Planned) -> RunSheet:
    """What goes on the run sheet."""
    study_id = str(planned.rows[0].cells["study_id"])
    return RunSheet(study_id, planned.plan.request.method, planned.rows, planned.seed, planned.remarks)
