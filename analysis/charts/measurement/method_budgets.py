"""What a single yield of each method is good for, and which error makes most of it."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import polars as pl

from analysis.measurement.budget import brew_budget
from analysis.measurement.component import Budget, Component
from analysis.measurement.from_facts import measured_brew
from analysis.measurement.measured import MeasuredBrew
from schemas.lab import LabSettings
from schemas.problem import ProblemError

Groups = Mapping[int, Sequence[Mapping[str, Any]]]
"""Rows of `reading_groups` by brew."""
MOST_BREWS = 400
"""Brews of a method whose budgets are worked out line by line; of more, so many taken evenly in order of time."""


@dataclass(frozen=True, slots=True)
class BudgetLine:
    """One error in the yields of a method: its share of the variance, 0 to 1, and what it alone would make.

    `share` is averaged over the brews. `alone_points` is the standard uncertainty, in points of yield, that it alone
    gives the middle brew at that share: all lines together make that brew's own.
    """

    name: str
    group: str
    kind: str
    share: float
    alone_points: float


@dataclass(frozen=True, slots=True)
class MethodBudget:
    """Yields of one method: the half width of their 95 % intervals in points, and its lines, largest first.

    `half_width` is the middle, `half_low` and `half_high` the quartiles over `n_brews`. `n_without` brews have a yield
    without an uncertainty, `why_without` the commonest reason. `measured` and `n_taken` are the brews behind the lines.
    """

    method: str
    n_brews: int
    half_width: float
    half_low: float
    half_high: float
    lines: tuple[BudgetLine, ...]
    measured: tuple[MeasuredBrew, ...]
    n_without: int
    why_without: str

    @property
    def groups(self) -> dict[str, float]:
        """Share of the variance by measured quantity, largest first."""
        found: defaultdict[str, float] = defaultdict(float)
        for line in self.lines:
            found[line.group] += line.share
        return dict(sorted(found.items(), key=lambda item: (-item[1], item[0])))


@dataclass(frozen=True, slots=True)
class NoBudget:
    """A method none of whose yields has an uncertainty, and the commonest reason; empty where nothing says it."""

    method: str
    n_yields: int
    why: str


def method_budgets(
    brews: pl.DataFrame, groups: Groups, settings: LabSettings
) -> tuple[tuple[MethodBudget, ...], tuple[NoBudget, ...]]:
    """Budgets by method, the one with most brews first, and the methods without any.

    `brews` are `brew_facts` with brew, moisture_pct, scale_standard_uncertainty and scale_resolution; `groups` holds
    each brew's rows of `reading_groups`. Void brews stay out.
    """
    used = brews.filter(~pl.col("is_void"), pl.col("extraction_yield_pct").is_not_null())
    ordered = used["method"].value_counts().sort("count", "method", descending=[True, False])["method"].to_list()
    found: list[MethodBudget] = []
    without: list[NoBudget] = []
    for method in ordered:
        one = budget_of_method(method, used.filter(pl.col("method") == method), groups, settings)
        if isinstance(one, MethodBudget):
            found.append(one)
        else:
            without.append(one)
    return tuple(sorted(found, key=lambda one: -one.n_brews)), tuple(without)


def budget_of_method(
    method: str, brews: pl.DataFrame, groups: Groups, settings: LabSettings
) -> MethodBudget | NoBudget:
    """The budget of one method; `brews` are those of it with a yield, void ones left out."""
    known = brews.filter(pl.col("extraction_yield_expanded_u_pct").is_not_null())
    unknown = brews.filter(pl.col("extraction_yield_expanded_u_pct").is_null())
    why = _commonest(unknown["u_note"])
    if known.is_empty():
        return NoBudget(method, brews.height, why)
    measured = measured_brews(spread_out(known, MOST_BREWS), groups, settings)
    low, middle, high = (
        float(known["extraction_yield_expanded_u_pct"].quantile(q, interpolation="lower") or 0.0)
        for q in (0.25, 0.5, 0.75)
    )
    lines = _lines([brew_budget(brew) for brew in measured])
    return MethodBudget(method, known.height, middle, low, high, lines, measured, unknown.height, why)


def measured_brews(brews: pl.DataFrame, groups: Groups, settings: LabSettings) -> tuple[MeasuredBrew, ...]:
    """The brews as a budget wants them; a brew that has none is passed over."""
    found = []
    for row in brews.iter_rows(named=True):
        try:
            brew = measured_brew(row, groups.get(row["brew"], ()), settings)
            brew_budget(brew)
        except ProblemError:
            continue
        found.append(brew)
    return tuple(found)


def spread_out(rows: pl.DataFrame, most: int) -> pl.DataFrame:
    """At most `most` rows, taken evenly from first to last."""
    if rows.height <= most:
        return rows
    return rows[[k * rows.height // most for k in range(most)]]


def _commonest(notes: pl.Series) -> str:
    counted = notes.drop_nulls().value_counts().sort("count", notes.name, descending=[True, False])
    return str(counted[notes.name][0]) if counted.height else ""


def _lines(budgets: Sequence[Budget]) -> tuple[BudgetLine, ...]:
    """Lines of one name, instruments taken together: their shares averaged over brews, each brew counted once.

    A mean of variances would let the few brews with the widest intervals speak for the middle one.
    """
    shares: defaultdict[str, list[float]] = defaultdict(list)
    first: dict[str, Component] = {}
    whole = [math.fsum(part.contribution**2 for part in budget.components) for budget in budgets]
    counted = [(budget, variance) for budget, variance in zip(budgets, whole, strict=True) if variance > 0]
    for budget, variance in counted:
        for part in budget.components:
            name = part.name.partition(",")[0]
            shares[name].append(part.contribution**2 / variance)
            first.setdefault(name, part)
    if not counted:
        return ()
    middle = math.sqrt(sorted(variance for _, variance in counted)[(len(counted) - 1) // 2])
    lines = []
    for name, values in shares.items():
        share = math.fsum(values) / len(counted)
        lines.append(BudgetLine(name, first[name].group, first[name].kind, share, middle * math.sqrt(share)))
    return tuple(sorted(lines, key=lambda line: (-line.share, line.name)))


WORDS: tuple[tuple[str, str], ...] = (
    ("scatter", "scatter of readings"),
    ("correction", "the declared correction"),
    ("gain", "slope of the instrument"),
    ("display step", "display step"),
    ("weighing", "the project's default for a weighing"),
)
"""Endings of a line's name and how the page says them."""
OFFSETS = {"TDS": "refractometer offset", "moisture": "offset of the moisture reading"}
"""What is left of calibration, by quantity; everything else is weighed."""


def line_words(line: BudgetLine) -> str:
    """A line as the page says it.

    >>> line_words(BudgetLine("TDS bias", "TDS", "B", 0.5, 0.1))
    'Strength: refractometer offset'
    """
    group = "strength" if line.group == "TDS" else line.group
    offset = ("bias", OFFSETS.get(line.group, "weighing scale offset"))
    ending = next((said for word, said in (*WORDS, offset) if line.name.endswith(word)), "")
    return f"{group[:1].upper()}{group[1:]}{': ' if ending else ''}{ending}"


def group_words(groups: Mapping[str, float]) -> str:
    """Shares of the variance by quantity, in whole percent; what rounds to nothing is left out.

    >>> group_words({"TDS": 0.82, "dose": 0.178, "beverage": 0.002})
    'strength 82 %, dose 18 %'
    """
    percents = {("strength" if name == "TDS" else name): round(100 * share) for name, share in groups.items()}
    return ", ".join(f"{name} {percent} %" for name, percent in percents.items() if percent)


REMEDIES: tuple[tuple[str, str, str], ...] = (
    ("TDS", "scatter", "another sample of each brew, or another reading, narrows it"),
    (
        "TDS",
        "bias",
        "more readings do not narrow it: check the refractometer against references, then declare the correction that "
        "`brewtrials instruments` works out",
    ),
    ("TDS", "correction", "more readings do not narrow it: more reference checks do"),
    ("TDS", "gain", "more readings do not narrow it: reference checks at more strengths do"),
    ("TDS", "display step", "only a refractometer with a finer display narrows it"),
    ("", "display step", "a weighing scale with a finer display narrows it"),
    ("", "bias", "a weighing scale checked against a known mass narrows it"),
    ("", "weighing", "naming the weighing scale (scale_id) replaces the default by what it really does"),
    ("moisture", "moisture", "measuring the moisture better narrows it"),
)


def remedy(line: BudgetLine) -> str:
    """What would make the line smaller, as the end of a sentence.

    >>> remedy(BudgetLine("dose display step", "dose", "B", 0.5, 0.1))
    'a weighing scale with a finer display narrows it'
    """
    fits = (said for group, word, said in REMEDIES if group in ("", line.group) and line.name.endswith(word))
    return next(fits, "measuring it better narrows it")


def main_line(lines: Iterable[BudgetLine]) -> BudgetLine | None:
    """The largest line; none where nothing is uncertain."""
    return max(lines, key=lambda line: line.share, default=None)
