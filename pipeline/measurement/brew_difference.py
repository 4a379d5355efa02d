"""Two brews, or two groups of them, side by side: the uncertainty of their difference and what cancels in it."""

from __future__ import annotations

from collections.abc import Sequence

import polars as pl

from analysis.measurement.component import Component, share_words
from analysis.measurement.difference import Difference, difference_of_means
from analysis.words import listed, number, sentence
from pipeline.measurement.brew_budget import LINE, BudgetedBrew, budget_data, lines
from pipeline.report import Part, Report, as_data, figures, freedom
from schemas.problem import ProblemError

LEFT = ("left in the difference", "share", "degrees of freedom")


def difference_report(first: Sequence[BudgetedBrew], second: Sequence[BudgetedBrew], *, timezone: str) -> Report:
    """First less second, means where there are several; the same brew on both sides is refused."""
    names = [brew.brew_id for brew in (*first, *second)]
    doubled = sorted({name for name in names if names.count(name) > 1})
    if doubled:
        raise ProblemError(f"{listed(doubled)} stands there twice. A difference is between different brews.")
    found = difference_of_means([brew.budget for brew in first], [brew.budget for brew in second])
    title = f"{_side(first)} less {_side(second)}"
    said = _sentences(title, first, second, found)
    owned = _owned(found, first, second)
    frame = pl.DataFrame(lines(title, found.budget), LINE, orient="row").rename({"brew_id": "difference"})
    headers = ("part", f"{_short(first, '--brew side')} alone", f"{_short(second, '--against side')} alone", *LEFT)
    return Report(
        parts=[Part("", said, headers, _rows(found, owned), right=headers[1:])],
        frame=frame.with_columns(pl.Series("of", [name for _, name in owned], pl.String)),
        data=as_data(
            {
                "first": [brew.brew_id for brew in first],
                "second": [brew.brew_id for brew in second],
                **budget_data(title, found.budget),
                "is_clear": found.is_clear,
                "shared": found.shared,
                "sentences": said,
            },
            timezone,
        ),
    )


def _side(brews: Sequence[BudgetedBrew]) -> str:
    names = listed([brew.brew_id for brew in brews])
    return names if len(brews) == 1 else f"the mean of {names}"


def _short(brews: Sequence[BudgetedBrew], several: str) -> str:
    return brews[0].brew_id if len(brews) == 1 else several


def _sentences(
    title: str, first: Sequence[BudgetedBrew], second: Sequence[BudgetedBrew], found: Difference
) -> list[str]:
    yields = [f"{brew.brew_id} {number(brew.budget.value, 2)} %" for brew in (*first, *second)]
    readings = sum(brew.n_readings for brew in (*first, *second))
    said = [
        f"Extraction yield: {', '.join(yields)} ({readings} readings in all).",
        f"Difference, {title}: {found.sentence()}",
        f"Its uncertainty, {number(found.budget.u, 2)} points (coverage factor "
        f"{number(found.budget.coverage_factor, 2)}), comes from {share_words(found.budget.shares())}",
    ]
    balances = {brew.measured.balance for brew in (*first, *second)}
    if len(balances) > 1:
        said.append(
            "One side is on the percolation balance, the other on that of immersion, which reads 2 to 3 points higher "
            "for the same cup (common practice): part of the difference is the balance, not the coffee"
        )
    notes = dict.fromkeys(
        note for brew in (*first, *second) for note in brew.notes if "is corrected" in note or "in doubt" in note
    )
    return [sentence(text) for text in (*said, *notes)]


def _owned(
    found: Difference, first: Sequence[BudgetedBrew], second: Sequence[BudgetedBrew]
) -> list[tuple[Component, str]]:
    """The lines of the difference, largest first, each with the brew or the instrument that it belongs to."""
    # A difference lists what each brew has to itself first, brew by brew.
    owners = [brew.brew_id for brew in (*first, *second) for part in brew.budget.components if not part.shared]
    whose = [*owners, *(part.shared for part in found.budget.components[len(owners) :])]
    return sorted(zip(found.budget.components, whose, strict=True), key=lambda pair: -abs(pair[0].contribution))


def _rows(found: Difference, owned: Sequence[tuple[Component, str]]) -> list[tuple[str, ...]]:
    budget = found.budget
    both = {(one.name, one.instrument): one for one in found.shared}
    rows: list[tuple[str, ...]] = []
    for part, name in owned:
        shared = both.get((part.name, part.shared))
        share = 100 * part.contribution**2 / budget.u**2 if budget.u > 0 else 0.0
        rows.append(
            (
                f"{name}: {part.name}",
                _points(shared.first_u) if shared else "",
                _points(shared.second_u) if shared else "",
                _points(abs(part.contribution)),
                f"{share:.0f} %",
                freedom(part.df),
            )
        )
    return rows


def _points(u: float) -> str:
    return f"{figures(u, most=3)} points"
