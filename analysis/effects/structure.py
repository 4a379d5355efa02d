"""Which levels and slopes differ at random: coffees, operators, sessions, whole plots, slopes by coffee."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import Literal

import numpy as np
import polars as pl

from analysis.effects.design import Design, Term
from analysis.effects.divisions import Division, codes_of, find_divisions, same_division, whole_plots
from analysis.effects.factors import GROUPS
from analysis.effects.request import EffectsRequest
from analysis.mixed.arrays import Floats, Ints
from analysis.mixed.model import RandomPart

Scope = Literal["for this coffee", "for these coffees", "for coffees like these"]
ENOUGH_COFFEES = 5
"""With fewer coffees the spread of their slopes cannot be judged: each coffee's own slope is shown instead."""
ENOUGH_OF_ONE = 3
"""Two brews of a coffee lie on a line whatever it answers."""
RANK_TOLERANCE = 1e-7


@dataclass(frozen=True)
class Structure:
    """The random parts of a model: intercepts first, then slopes that differ by coffee.

    `notes` says which divisions were recognised and left out, and why; `scope` is what the intervals speak for,
    `term_scopes` (p,) the same for each term of the design: a slope speaks for coffees like these only where it was
    allowed to differ between at least five of them. `slopes` names the parts that are slopes, by place of their term.
    """

    parts: tuple[RandomPart, ...]
    notes: tuple[str, ...]
    scope: Scope
    term_scopes: tuple[Scope, ...] = ()
    slopes: dict[int, str] = field(default_factory=dict)


def random_structure(
    brews: pl.DataFrame,
    request: EffectsRequest,
    design: Design,
    *,
    whole_plot: tuple[str, ...] = (),
    blocks: tuple[str, ...] = (),
) -> Structure:
    """The random parts that these complete brews can carry; `whole_plot` names columns that stay put between brews.

    The group keeps its level; operator, session and `blocks` get one too where they divide the brews in another way
    into at least three. A division that equals one already there is left out and said. Slopes differ by coffee from
    five coffees on.
    """
    divisions, notes = _intercepts(brews, request, design, whole_plot, blocks)
    parts = [RandomPart(one.word, one.codes, np.ones(brews.height)) for one in divisions]
    slopes: dict[int, str] = {}
    if _slopes_can_differ(brews, request, divisions):
        coffees = codes_of(brews["coffee_id"])
        for k, term in enumerate(design.terms):
            if len(term.factors) == 1 and _coffees_that_show(design.x[:, k], coffees) >= ENOUGH_COFFEES:
                slopes[k] = f"{term.name}{term.place} by coffee"
                parts.append(RandomPart(slopes[k], coffees, design.x[:, k]))
    scopes = _term_scopes(brews, design.terms, slopes, divisions, request)
    linear = [scope for scope, term in zip(scopes, design.terms, strict=True) if len(term.factors) == 1]
    return Structure(tuple(parts), tuple(notes), narrowest(linear), scopes, slopes)


def narrowest(scopes: Sequence[Scope]) -> Scope:
    """The scope that all of these allow."""
    order: tuple[Scope, ...] = ("for this coffee", "for these coffees", "for coffees like these")
    return min(scopes, key=order.index)


def _intercepts(
    brews: pl.DataFrame,
    request: EffectsRequest,
    design: Design,
    whole_plot: tuple[str, ...],
    blocks: tuple[str, ...],
) -> tuple[list[Division], list[str]]:
    word = GROUPS[request.group]
    group = Division(request.group, word, codes_of(brews[request.group]))
    notes: list[str] = []
    kept = [group] if group.count > 1 and not _is_taken(group.codes, design.x) else []
    others, said = find_divisions(brews, request.group, blocks)
    notes += said
    if whole_plot:
        plots, said = whole_plots(brews, whole_plot)
        others += plots
        notes += said
    for one in others:
        twin = next((other for other in (group, *kept) if same_division(one.codes, other.codes)), None)
        if twin is not None:
            notes.append(
                f"{one.word} and {twin.word} divide these brews alike: their levels count once, as {twin.word}."
            )
        elif _is_taken(one.codes, design.x):
            notes.append(f"The levels of {one.word} are not in the model: the factors already tell them apart.")
        else:
            kept.append(one)
    return kept, notes


def _is_taken(codes: Ints, x: Floats) -> bool:
    """Whether the fixed columns leave nothing to levels of their own, or every brew is a level."""
    n_levels = int(codes.max()) + 1
    if n_levels == codes.size:
        return True
    unit = x / np.sqrt(np.sum(x * x, axis=0))
    sizes = np.bincount(codes)
    sums = np.zeros((n_levels, x.shape[1]))
    np.add.at(sums, codes, unit)
    within = unit - (sums / sizes[:, None])[codes]
    rank = int(np.sum(np.linalg.svd(within, compute_uv=False) > RANK_TOLERANCE))
    return bool(n_levels + rank <= x.shape[1])


def _slopes_can_differ(brews: pl.DataFrame, request: EffectsRequest, divisions: Sequence[Division]) -> bool:
    """Slopes by coffee need coffees that keep a level of their own: as the group, or as groups within coffees."""
    if not any(one.column == request.group for one in divisions):
        return False
    return groups_within_coffees(brews, request.group)


def groups_within_coffees(brews: pl.DataFrame, group: str) -> bool:
    """Whether every group holds brews of one coffee only."""
    return bool(brews.group_by(group).agg(coffees=pl.col("coffee_id").n_unique())["coffees"].max() == 1)


def _coffees_that_show(values: Floats, coffees: Ints) -> int:
    """Coffees of three brews and more within which the column takes more than one value."""
    high, low = np.full(int(coffees.max()) + 1, -np.inf), np.full(int(coffees.max()) + 1, np.inf)
    np.maximum.at(high, coffees, values)
    np.minimum.at(low, coffees, values)
    return int(np.sum((high - low > RANK_TOLERANCE * np.ptp(values)) & (np.bincount(coffees) >= ENOUGH_OF_ONE)))


def _term_scopes(
    brews: pl.DataFrame,
    terms: Sequence[Term],
    slopes: dict[int, str],
    divisions: Sequence[Division],
    request: EffectsRequest,
) -> tuple[Scope, ...]:
    codes = codes_of(brews["coffee_id"])
    coffees = int(codes.max()) + 1
    if coffees == 1:
        alone_here: Scope = "for this coffee"
        return (alone_here,) * len(terms)
    alone = coffees == brews.height  # every brew another coffee: what differs between them is in the scatter
    levels = any(one.column == request.group for one in divisions) and groups_within_coffees(brews, request.group)
    enough = [(alone or levels) and np.unique(codes[term.rows]).size >= ENOUGH_COFFEES for term in terms]
    wide = {
        (term.name, term.place)
        for k, term in enumerate(terms)
        if len(term.factors) == 1 and enough[k] and (alone or k in slopes or _stands_still(brews, term))
    }
    return tuple(_scope_of(term, wide, many=many) for term, many in zip(terms, enough, strict=True))


def _stands_still(brews: pl.DataFrame, term: Term) -> bool:
    """Whether a factor is constant within every coffee: its slope then rests on the coffees' levels."""
    settings = brews.filter(term.rows).group_by("coffee_id").agg(n=pl.col(term.factors[0]).n_unique())["n"]
    return bool(settings.max() == 1)


def _scope_of(term: Term, wide: set[tuple[str, str]], *, many: bool) -> Scope:
    """An intercept has the coffees' scope; a square or product that of the factors in it."""
    places = {term.place, _method_only(term)}
    reaches = many and all(any((name, place) in wide for place in places) for name in term.factors)
    return "for coffees like these" if reaches else "for these coffees"


def _method_only(term: Term) -> str:
    """The place without the grinder: where a factor other than the dial has its slope."""
    return replace(term, grinder=None).place
