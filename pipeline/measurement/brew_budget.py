"""The uncertainty budget of single brews: every part with its share, the interval, and what the budget rests on."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import polars as pl

from analysis.measurement.budget import brew_budget, budget_sentence
from analysis.measurement.component import Budget, Component, whole_df
from analysis.measurement.from_facts import measured_brew
from analysis.measurement.measured import MeasuredBrew
from analysis.measurement.monte_carlo import Comparison, compare
from analysis.words import count, method_word, sentence
from pipeline.measurement.gather import Gathered
from pipeline.report import Part, Report, as_data, figures, freedom
from schemas.problem import ProblemError

if TYPE_CHECKING:
    import numpy as np

LINE = {
    "brew_id": pl.String(),
    "part": pl.String(),
    "group": pl.String(),
    "kind": pl.String(),
    "u": pl.Float64(),
    "unit": pl.String(),
    "sensitivity": pl.Float64(),
    "contribution": pl.Float64(),
    "share_pct": pl.Float64(),
    "df": pl.Float64(),
    "shared": pl.String(),
}
"""Lines of budgets in a file: `u` in `unit`, `contribution` in points of yield, `share_pct` of the variance."""
HEADERS = ("part", "standard uncertainty", "moves the yield by", "gives", "share", "degrees of freedom", "from")
KINDS = {"A": "repeats (type A)", "B": "stated (type B)"}
PERCENT_GROUPS = ("TDS", "moisture")


@dataclass(frozen=True)
class BudgetedBrew:
    """A brew with its budget in points of extraction yield; `drawn` where a simulation was asked for."""

    brew_id: str
    method: str
    measured: MeasuredBrew
    budget: Budget
    drawn: Comparison | None
    notes: tuple[str, ...]

    @property
    def n_readings(self) -> int:
        """Readings of strength behind the yield."""
        return sum(group.n_readings for group in self.measured.readings)

    def sentences(self) -> list[str]:
        """The budget in words, most important first."""
        said = [f"Brew {self.brew_id}, {method_word(self.method)}. {budget_sentence(self.measured, self.budget)}"]
        if self.drawn is not None:
            said.append(self.drawn.sentence())
        return [*said, *map(sentence, self.notes)]


def measured_of(gathered: Gathered, brew_id: str) -> MeasuredBrew:
    """What was measured of a brew; ProblemError says why where it has no yield."""
    row = gathered.brew_row(brew_id)
    if row["extraction_yield_pct"] is None:
        raise ProblemError(gathered.why_no_yield(row))
    return measured_brew(row, gathered.groups[row["brew"]], gathered.settings)


def budgeted(gathered: Gathered, brew_id: str, *, rng: np.random.Generator | None = None) -> BudgetedBrew:
    """The budget of one brew; with `rng` the same by simulation beside it. Refuses what has none, with the reason."""
    measured = measured_of(gathered, brew_id)
    row = gathered.brew_row(brew_id)
    try:
        budget = brew_budget(measured)
    except ProblemError as problem:
        raise ProblemError(f"Brew {brew_id}: {problem}") from problem
    drawn = None if rng is None else compare(measured, rng=rng)
    return BudgetedBrew(brew_id, row["method"], measured, budget, drawn, tuple(_notes(gathered, row, measured)))


def _notes(gathered: Gathered, row: dict[str, Any], measured: MeasuredBrew) -> list[str]:
    """What bears on the budget besides its lines: void, doubts, corrections, single readings, equal repeats."""
    notes = [f"this brew is void ({row['void_reason']}) and left out of every analysis"] if row["is_void"] else []
    notes += [f"readings in doubt: {why}" for why in gathered.doubts(row["brew_id"])]
    corrected = gathered.corrected_words(group.instrument for group in measured.readings)
    notes += [corrected] if corrected else []
    for group in measured.readings:
        if group.scatter_pct is None:
            continue
        who = group.instrument or "the unnamed instrument"
        freedom_words = count(int(whole_df(group.scatter_df)), "degree") + " of freedom"
        if group.scatter_pct == 0:
            notes.append(
                f"all repeats on {who} are equal ({freedom_words}): the display step alone counts for their scatter"
            )
        elif group.n_readings == 1:
            notes.append(f"one reading only on {who}: how readings scatter is known from other brews ({freedom_words})")
        elif group.n_repeats == 1:
            notes.append(
                f"one sample, read {group.n_readings} times, on {who}: how samples of one brew differ is known from "
                f"other brews ({freedom_words})"
            )
    return notes


def budget_report(brews: Sequence[BudgetedBrew], *, timezone: str) -> Report:
    """The budgets of several brews, one part each."""
    return Report(
        parts=[_part(brew) for brew in brews],
        frame=pl.DataFrame([line for brew in brews for line in lines(brew.brew_id, brew.budget)], LINE, orient="row"),
        data=as_data([_data(brew) for brew in brews], timezone),
    )


def lines(name: str, budget: Budget) -> list[tuple[Any, ...]]:
    """Rows of `LINE`, largest part first."""
    return [
        (
            name, part.name, part.group, part.kind, part.u, unit_of(part), part.sensitivity, part.contribution,
            _share(part, budget), part.df, part.shared or None,
        )
        for part in by_size(budget)
    ]  # fmt: skip


def by_size(budget: Budget) -> list[Component]:
    """The lines of a budget, the one that counts most first."""
    return sorted(budget.components, key=lambda part: -abs(part.contribution))


def unit_of(part: Component) -> str:
    """The unit of a line's standard uncertainty: a slope error has none."""
    if part.name.endswith("gain"):
        return ""
    return "%" if part.group in PERCENT_GROUPS else "g"


def _share(part: Component, budget: Budget) -> float:
    return 100 * part.contribution**2 / budget.u**2 if budget.u > 0 else 0.0


def _part(brew: BudgetedBrew) -> Part:
    return Part(
        title="",
        sentences=brew.sentences(),
        headers=HEADERS,
        rows=[_cells(part, brew.budget) for part in by_size(brew.budget)],
        right=HEADERS[1:6],
    )


def _cells(part: Component, budget: Budget) -> tuple[str, ...]:
    unit = unit_of(part)
    return (
        f"{part.name} of {part.shared}" if part.shared else part.name,
        f"{figures(part.u)} {unit}".rstrip(),
        f"{figures(part.sensitivity)} points{f' per {unit}' if unit else ''}",
        f"{figures(abs(part.contribution), most=3)} points",
        f"{_share(part, budget):.0f} %",
        freedom(part.df),
        KINDS[part.kind],
    )


def _data(brew: BudgetedBrew) -> dict[str, Any]:
    budget = brew.budget
    return {
        "brew_id": brew.brew_id,
        "method": brew.method,
        "result": "extraction_yield_pct",
        **budget_data(brew.brew_id, budget),
        "n_readings": brew.n_readings,
        "simulation": brew.drawn and {"drawn": brew.drawn.drawn, "agrees": brew.drawn.agrees,
                                      "budget_stands": brew.drawn.budget_stands},
        "sentences": brew.sentences(),
    }  # fmt: skip


def budget_data(name: str, budget: Budget) -> dict[str, Any]:
    """A budget for programs: the result with its interval, shares by group, lines by size."""
    return {
        "value": budget.value,
        "unit": budget.unit,
        "u": budget.u,
        "df": budget.df,
        "coverage_factor": budget.coverage_factor,
        "expanded_u": budget.expanded_u,
        "low": budget.low,
        "high": budget.high,
        "level": budget.level,
        "shares": budget.shares(),
        "lines": [dict(zip(list(LINE)[1:], line[1:], strict=True)) for line in lines(name, budget)],
    }
