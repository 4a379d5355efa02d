"""Which regression fits these brews, and that regression fitted."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
import polars as pl

from analysis.effects.checks import (
    RANK_TOLERANCE,
    check_enough,
    check_noise,
    check_separable,
    check_variation,
    label,
    refuse_pinned,
)
from analysis.effects.design import Design, Term, build_design
from analysis.effects.factors import GROUPS, many, plural
from analysis.effects.fit import Fit, Floats, Ints
from analysis.effects.fit_in_order import Ordered, fit_in_order
from analysis.effects.ols import pinned_rows
from analysis.effects.request import EffectsRequest
from analysis.effects.rows import ChosenRows
from analysis.effects.structure import ENOUGH_COFFEES, Structure, random_structure
from analysis.mixed.model import RandomPart
from analysis.words import listed
from schemas.problem import ProblemError

SHARE_OF_TIE = 0.05
"""Weight from which a column counts among those that move together."""

Kind = Literal["one group", "one brew each", "absorbed", "mixed"]


@dataclass(frozen=True)
class Groups:
    """How the brews fall into groups.

    `codes` (n,) numbers the group of each brew; `x_within` (n, p) is the design less each group's mean;
    `between` lists terms that are constant within every group; `free_levels` counts group levels that the design
    does not already fix (the degrees of freedom left to a group intercept); `within_rank` is the rank of `x_within`.
    """

    codes: Ints
    count: int
    x_within: Floats
    between: tuple[Term, ...]
    free_levels: int
    within_rank: int
    kind: Kind


def find_groups(brews: pl.DataFrame, group: str, design: Design) -> Groups:
    """Number the groups and see what is left to a group intercept."""
    codes = brews[group].rank("dense").cast(pl.Int64).to_numpy() - 1
    sizes = np.bincount(codes)
    unit = design.x / np.sqrt(np.sum(design.x**2, axis=0))
    within = unit - group_means(unit, codes, sizes)
    rank = int(np.sum(np.linalg.svd(within, compute_uv=False) > RANK_TOLERANCE))
    inside = np.sqrt(np.sum(within**2, axis=0))
    between = tuple(t for t, size in zip(design.terms, inside, strict=True) if t.factors and size <= RANK_TOLERANCE)
    free = sizes.size + rank - design.x.shape[1]
    kind: Kind = "mixed"
    if sizes.size == 1:
        kind = "one group"
    elif sizes.max() == 1:
        kind = "one brew each"
    elif free == 0:
        kind = "absorbed"
    return Groups(codes, sizes.size, within, between, free, rank, kind)


def group_means(x: Floats, codes: Ints, sizes: Ints) -> Floats:
    """The mean of each group in each of its rows, shape of `x` (n, p); `sizes` counts the rows of every group."""
    sums = np.zeros((sizes.size, x.shape[1]))
    np.add.at(sums, codes, x)
    return np.asarray((sums / sizes[:, None])[codes], dtype=np.float64)


@dataclass(frozen=True)
class Fitted:
    """A fit with everything it rests on; `x` (n, p) is the design with what was taken out beside it as last columns.

    `order` is None where the order of brewing within sessions could not be judged.
    """

    design: Design
    fit: Fit
    groups: Groups
    structure: Structure
    order: Ordered
    y: Floats
    x: Floats
    parts: tuple[RandomPart, ...]


def fit_chosen(
    chosen: ChosenRows, request: EffectsRequest, *, whole_plot: tuple[str, ...] = (), blocks: tuple[str, ...] = ()
) -> Fitted:
    """The design of the chosen brews and the fit that suits them; ProblemError where none can be shown honestly."""
    check_variation(chosen.brews, request)
    design = build_design(chosen.brews, request, chosen.grinders)
    return fit_model(chosen.brews, request, design, whole_plot=whole_plot, blocks=blocks)


def fit_model(
    brews: pl.DataFrame,
    request: EffectsRequest,
    design: Design,
    *,
    whole_plot: tuple[str, ...] = (),
    blocks: tuple[str, ...] = (),
) -> Fitted:
    """The fit that suits these brews; ProblemError where none can be shown honestly.

    Where levels or slopes may differ at random: a mixed model by REML, a spread of zero dropped. Where nothing may
    (one coffee without sessions, or levels that the grinders' intercepts already tell apart): least squares with HC3.
    """
    word = GROUPS[request.group]
    y = brews[request.response].cast(pl.Float64).to_numpy()
    n, p = design.x.shape
    check_enough(n, p)
    check_separable(design)
    groups = find_groups(brews, request.group, design)
    _refuse_between(groups, word)
    _refuse_tied(groups, design, word)
    if groups.kind == "mixed":
        check_enough(n, p, taken=groups.free_levels, levels=plural(word, groups.count))
        check_noise(y, _within_residual(y, groups), request.response)
    structure = random_structure(brews, request, design, whole_plot=whole_plot, blocks=blocks)
    if groups.kind != "mixed":
        _refuse_alone(brews, y, design, request)
    fit, ordered, parts, x = fit_in_order(brews, request, design, structure, y, robust=groups.kind != "mixed")
    return Fitted(design, fit, groups, structure, ordered, y, x, parts)


def _refuse_alone(brews: pl.DataFrame, y: Floats, design: Design, request: EffectsRequest) -> None:
    """Least squares needs brews that do not decide a term alone, and scatter."""
    refuse_pinned([str(brews["brew_id"][row]) for row in pinned_rows(design.x)])
    left = y - design.x @ np.linalg.lstsq(design.x, y, rcond=None)[0]
    check_noise(y, left, request.response)


def _refuse_between(groups: Groups, word: str) -> None:
    """A factor that differs only between a few groups cannot be told from what else differs between them."""
    few = groups.kind in ("mixed", "absorbed") and groups.count < ENOUGH_COFFEES
    if not (few or groups.kind == "absorbed") or not groups.between:
        return
    names = listed(list(dict.fromkeys(term.name for term in groups.between)))
    also = f", brew at least {ENOUGH_COFFEES} {many(word)}" if few else ""
    raise ProblemError(
        f"{names} differs only between the {plural(word, groups.count)}, never within one, so its effect cannot "
        f"be told from the difference between them. Brew one {word} at two settings{also}, or leave it out."
    )


def _refuse_tied(groups: Groups, design: Design, word: str) -> None:
    """Factors that move together inside every one of a few groups: only the groups' own levels tell them apart."""
    if groups.kind != "mixed" or groups.count >= ENOUGH_COFFEES:
        return
    places = [k for k, term in enumerate(design.terms) if term.factors]
    columns = groups.x_within[:, places] / np.sqrt(np.sum(groups.x_within[:, places] ** 2, axis=0))
    _, sizes, axes = np.linalg.svd(columns, full_matrices=False)
    if columns.shape[0] < columns.shape[1] or sizes[-1] > RANK_TOLERANCE:
        return
    tied = [label(design.terms[k]) for k, part in zip(places, axes[-1], strict=True) if abs(part) > SHARE_OF_TIE]
    raise ProblemError(
        f"{listed(tied)} always move together within each of the {plural(word, groups.count)}, so their effects cannot "
        f"be told from the difference between {many(word)}. Leave one out, or brew one {word} where one changes and "
        "the other does not."
    )


def _within_residual(y: Floats, groups: Groups) -> Floats:
    """What is left of `y` when every group has a level of its own."""
    sizes = np.bincount(groups.codes)
    inside = y - group_means(y[:, None], groups.codes, sizes)[:, 0]
    beta, *_ = np.linalg.lstsq(groups.x_within, inside, rcond=RANK_TOLERANCE)
    return np.asarray(inside - groups.x_within @ beta, dtype=np.float64)
