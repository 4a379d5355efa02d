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
    refuse_pinned,
)
from analysis.effects.design import Design, Term, build_design
from analysis.effects.factors import GROUPS, plural
from analysis.effects.fit import Fit, Floats, Ints, NoFit
from analysis.effects.mixed import fit_mixed
from analysis.effects.ols import fit_ols, pinned_rows
from analysis.effects.request import EffectsRequest
from analysis.effects.rows import ChosenRows
from schemas.problem import ProblemError

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
    within = unit - _group_means(unit, codes, sizes)
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


def _group_means(x: Floats, codes: Ints, sizes: Ints) -> Floats:
    sums = np.zeros((sizes.size, x.shape[1]))
    np.add.at(sums, codes, x)
    return np.asarray((sums / sizes[:, None])[codes], dtype=np.float64)


def fit_chosen(chosen: ChosenRows, request: EffectsRequest) -> tuple[Design, Fit, Groups]:
    """The design of the chosen brews and the fit that suits them; ProblemError where none can be shown honestly."""
    check_variation(chosen.brews, request)
    design = build_design(chosen.brews, request, chosen.grinders)
    return design, *fit_model(chosen.brews, request, design)


def fit_model(brews: pl.DataFrame, request: EffectsRequest, design: Design) -> tuple[Fit, Groups]:
    """The fit that suits these brews; ProblemError where none can be shown honestly.

    One group, or groups that the grinders' intercepts already tell apart: least squares with HC3. Several groups: a
    mixed model with a group intercept; a singular one falls back on classical least squares inside `fit_mixed`.
    """
    word = GROUPS[request.group]
    y = brews[request.response].cast(pl.Float64).to_numpy()
    n, p = design.x.shape
    check_enough(n, p)
    check_separable(design)
    groups = find_groups(brews, request.group, design)
    _refuse_between(groups, word)
    if groups.kind == "mixed":
        check_enough(n, p, taken=groups.free_levels, levels=plural(word, groups.count))
        check_noise(y, _within_residual(y, groups), request.response)
        fit = fit_mixed(y, design.x, groups.codes)
        if isinstance(fit, NoFit):
            raise ProblemError(f"No effect can be shown: {fit.reason}. Leave a factor out, or brew more.")
        return fit, groups
    refuse_pinned([str(brews["brew_id"][row]) for row in pinned_rows(design.x)])
    fit = fit_ols(y, design.x)
    check_noise(y, fit.residual, request.response)
    return fit, groups


def _refuse_between(groups: Groups, word: str) -> None:
    if groups.kind != "absorbed" or not groups.between:
        return
    names = " and ".join(dict.fromkeys(term.name for term in groups.between))
    raise ProblemError(
        f"{names} differs only between the {plural(word, groups.count)}, never within one, so its effect cannot "
        f"be told from the difference between them. Brew one {word} at two settings, or leave it out."
    )


def _within_residual(y: Floats, groups: Groups) -> Floats:
    """What is left of `y` when every group has a level of its own."""
    sizes = np.bincount(groups.codes)
    inside = y - _group_means(y[:, None], groups.codes, sizes)[:, 0]
    beta, *_ = np.linalg.lstsq(groups.x_within, inside, rcond=RANK_TOLERANCE)
    return np.asarray(inside - groups.x_within @ beta, dtype=np.float64)
