"""Brews whose yield is hardly possible: they count as they stand, so the reader is told what changes without them."""

from __future__ import annotations

import polars as pl

from analysis.effects.design import Design, Term
from analysis.effects.factors import difference_unit, plural
from analysis.effects.fit import Fit
from analysis.effects.model import fit_chosen
from analysis.effects.request import EffectsRequest
from analysis.effects.rows import choose_rows
from analysis.effects.words import READ, change_and_interval
from analysis.facts.flags.ranges import YIELD_PCT, outside
from analysis.words import listed, number
from schemas.problem import ProblemError

MOST_NAMED = 5
MOVED = 0.5
"""An effect hangs on the doubtful brews when, without them, its estimate or the half width of its interval differs by
this share of that half width."""


def find_doubts(
    facts: pl.DataFrame, request: EffectsRequest, brews: pl.DataFrame, design: Design, fit: Fit
) -> list[str]:
    """A note that names the brews with a yield outside the usual 8 to 28 %, and the effects that hang on them.

    `brews` are those that `design` and `fit` rest on, `facts` those that they were chosen from.
    """
    if request.response not in READ:
        return []
    doubtful = brews.filter(outside(pl.col("extraction_yield_pct"), *YIELD_PCT))
    if doubtful.is_empty():
        return []
    one = doubtful.height == 1
    without = facts.join(doubtful.select("brew_id"), on="brew_id", how="anti", maintain_order="left")
    return [
        f"{plural('brew', doubtful.height)} {'counts as it stands' if one else 'count as they stand'} with a yield "
        f"outside {YIELD_PCT[0]:g} to {YIELD_PCT[1]:g} %: {_named(doubtful)}. Check {'its' if one else 'their'} "
        f"records first. {_change(without, request, design, fit, 'it' if one else 'them')}"
    ]


def _named(doubtful: pl.DataFrame) -> str:
    """The first of them with their yields, and how many more."""
    rows = doubtful.head(MOST_NAMED).select("brew_id", "extraction_yield_pct").iter_rows()
    shown = [f"{brew_id} at {number(value, 1)} %" for brew_id, value in rows]
    more = doubtful.height - MOST_NAMED
    return listed([*shown, f"{more} more"] if more > 0 else shown)


def _change(facts: pl.DataFrame, request: EffectsRequest, design: Design, fit: Fit, them: str) -> str:
    """What the same question answers without the doubtful brews: the effects that hang on them, in words."""
    try:
        again = fit_chosen(choose_rows(facts, request), request)
    except ProblemError:
        return f"Without {them} no effect could be shown."
    other, refit = again.design, again.fit
    place = {(term.name, term.place): k for k, term in enumerate(other.terms)}
    changed = []
    for k, term in enumerate(design.terms):
        at = place.get((term.name, term.place))
        if at is None:
            return f"Without {them} this question could not be answered in full."
        if term.factors and _hangs(fit, k, refit, at):
            changed.append(_instead(term, request, refit, at))
    if not changed:
        return f"Without {them} the effects stay much as they are."
    return f"Without {them} it would be {'; '.join(changed)}."


def _hangs(fit: Fit, k: int, refit: Fit, at: int) -> bool:
    half = fit.half_width(k)
    shift, widening = refit.estimate[at] - fit.estimate[k], refit.half_width(at) - half
    return bool(max(abs(shift), abs(widening)) > MOVED * half)


def _instead(term: Term, request: EffectsRequest, refit: Fit, at: int) -> str:
    step = term.step or 1.0
    estimate, half = float(refit.estimate[at]) * step, refit.half_width(at) * step
    unit = difference_unit(request.response)
    return change_and_interval(term, request, estimate=estimate, low=estimate - half, high=estimate + half, unit=unit)
