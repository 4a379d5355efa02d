"""What a reader must know beside the numbers: what an effect means, and what these brews cannot settle."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import polars as pl

from analysis.effects.assumptions import about_assumptions
from analysis.effects.design import Design
from analysis.effects.factors import FACTORS, GROUPS, difference_unit, many, plural, shared_weights
from analysis.effects.fit import Floats
from analysis.effects.measured import about_coverage
from analysis.effects.model import Fitted, Groups
from analysis.effects.not_held import not_held
from analysis.effects.request import EffectsRequest
from analysis.effects.slopes import Alike
from analysis.effects.structure import ENOUGH_COFFEES
from analysis.physics import plain
from analysis.words import p_range
from schemas.columns import COLUMNS
from schemas.methods import BALANCE_OF_METHOD

FEW_YES_NO = 3
HIGH_CORRELATION = 0.9
MOST_OF_IT = 0.5
ENOUGH_TO_STAND_OUT = 8
"""With fewer brews a planned extreme can hold half of the squares by right."""


def make_notes(brews: pl.DataFrame, request: EffectsRequest, fitted: Fitted, alike: Sequence[Alike]) -> tuple[str, ...]:
    """All notes that apply, the model's first."""
    return (
        *_about_groups(brews, request, fitted),
        *_about_alike(brews, request, fitted, alike),
        *fitted.structure.notes,
        *fitted.order.notes,
        *fitted.design.silent,
        *_about_meaning(brews, request),
        *not_held(brews, request, fitted.groups),
        *_about_balance(brews, request, fitted.design, fitted.groups),
        *about_assumptions(brews, request, fitted.fit),
    )


def _about_alike(brews: pl.DataFrame, request: EffectsRequest, fitted: Fitted, alike: Sequence[Alike]) -> list[str]:
    """Which changes coffees answer differently, and whom the intervals speak for."""
    notes: list[str] = []
    by_term = {(term.name, term.place): term for term in fitted.design.terms}
    unit = difference_unit(request.response)
    for one in alike:
        if not one.differs:
            continue
        term = by_term[one.term, one.place]
        how = f"Coffees answer {one.term}{one.place} differently ({p_range(one.p_value)})"
        if one.sd is None:
            notes.append(f"{how}: read the slope of each coffee beside the common one.")
        else:
            amount = f"{one.sd:.2g} {unit}".rstrip()
            notes.append(f"{how}: standard deviation between coffees {amount} for {term.per}.")
    if fitted.groups.kind == "one brew each":
        return notes
    return [*notes, *about_coverage(brews["coffee_id"].n_unique(), alike)]


def _about_groups(brews: pl.DataFrame, request: EffectsRequest, fitted: Fitted) -> list[str]:
    word, fit, groups, design = GROUPS[request.group], fitted.fit, fitted.groups, fitted.design
    notes = []
    if word in fit.components and groups.count < ENOUGH_COFFEES and request.group != "coffee_id":
        notes.append(f"How far {many(word)} differ from each other was judged from only {groups.count} of them.")
    # Where coffees are few, the note on whom the intervals speak for says it.
    fewest = ENOUGH_COFFEES - 1 if request.group == "coffee_id" else 1
    alike = groups.kind in ("mixed", "absorbed") and not fitted.structure.slopes
    if alike and brews["coffee_id"].n_unique() > fewest:
        notes.append(
            f"Every {word} is taken to answer a change alike; where {many(word)} answer differently, intervals are too "
            "narrow."
        )
    if word in fit.dropped and groups.between:
        names = " and ".join(dict.fromkeys(term.name for term in groups.between))
        notes.append(
            f"{names} differs only between {plural(word, groups.count)}, and nothing else is taken to differ between "
            "them here, so its interval is too narrow."
        )
    coffees = brews["coffee_id"].n_unique()
    nested = brews.group_by(request.group).agg(coffees=pl.col("coffee_id").n_unique())["coffees"].max() == 1
    if coffees > 1 and not nested:
        notes.append(
            f"The {plural('coffee', coffees)} are compared here as if they were one: a difference between them can "
            "pass for an effect."
        )
    grinders = brews["grinder_id"].drop_nulls().n_unique()
    if grinders > 1 and request.group != "grinder_id" and not any(term.grinder for term in design.terms):
        notes.append(
            f"These brews come from {plural('grinder', grinders)}, compared as if they were one: a difference between "
            "them can pass for an effect."
        )
    return notes


def _about_meaning(brews: pl.DataFrame, request: EffectsRequest) -> list[str]:
    notes = []
    percolation = any(BALANCE_OF_METHOD.get(method) != "immersion" for method in brews["method"].unique())
    for name in request.factors:
        role = FACTORS[name].role
        if len(request.factors) > 1 and (role == "outcome" or (role == "time" and percolation)):
            notes.append(
                f"{name} is an outcome as well as a factor: grind and dose act partly through it, so the other effects "
                f"are stated at equal {FACTORS[name].noun}."
            )
    balances = tuple(sorted(brews["balance_used"].drop_nulls().unique()))
    for name in request.factors:
        shared = shared_weights(request.response, name, balances)
        if shared:
            # What that can do to the effect stands in its sentence; here are the weights to look at.
            by = "itself" if shared == [name] else "by way of " + " and ".join(shared)
            notes.append(f"{name} counts into {request.response} {by}.")
    return notes


def _about_balance(brews: pl.DataFrame, request: EffectsRequest, design: Design, groups: Groups) -> list[str]:
    notes = []
    for name in request.factors:
        if FACTORS[name].is_yes_no:
            yes = int(brews[name].sum())
            rare, side = min((yes, "yes"), (brews.height - yes, "no"))
            if rare < FEW_YES_NO:
                notes.append(f"{name} is {side} in only {rare} of {plural('brew', brews.height)}.")
    x = groups.x_within if groups.kind == "mixed" else design.x
    notes += _single_brews(brews, design, x)
    linear = [k for k, term in enumerate(design.terms) if len(term.factors) == 1 and np.ptp(x[:, k]) > 0]
    for place, j in enumerate(linear):
        for k in linear[place + 1 :]:
            r = _correlation(x[:, j], x[:, k])
            if abs(r) >= HIGH_CORRELATION:
                first, second = design.terms[j].name, design.terms[k].name
                notes.append(
                    f"{first} and {second} moved together (r = {r:.2f}), so their effects are hard to tell apart."
                )
    return notes


def _single_brews(brews: pl.DataFrame, design: Design, x: Floats) -> list[str]:
    """Names a brew that alone holds most of what is known of a factor: its share of the squares left by the others."""
    notes = []
    for k, term in enumerate(design.terms):
        if len(term.factors) != 1 or FACTORS[term.name].is_yes_no or np.sum(term.rows) < ENOUGH_TO_STAND_OUT:
            continue
        others = np.delete(x, k, axis=1)
        own = x[:, k] - others @ np.linalg.lstsq(others, x[:, k], rcond=None)[0]
        share = own**2 / np.sum(own**2)
        row = int(np.argmax(share))
        if share[row] > MOST_OF_IT:
            unit = COLUMNS[term.name].unit
            notes.append(
                f"Most of what is known of {term.name}{term.place} comes from one "
                f"brew, {brews['brew_id'][row]} at {plain(brews[term.name][row], 2)} {unit}: check that record."
            )
    return notes


def _correlation(first: Floats, second: Floats) -> float:
    rows = (first != 0) | (second != 0)
    return float(np.corrcoef(first[rows], second[rows])[0, 1])
