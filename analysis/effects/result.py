"""One regression, told in every way that the command, the page and other analyses read it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import polars as pl

from analysis.effects.fit_in_order import Ordered
from analysis.effects.request import EffectsRequest
from analysis.effects.slopes import Alike
from analysis.effects.structure import Scope
from analysis.effects.surface import Surface
from analysis.effects.top import Top


@dataclass(frozen=True)
class EffectsResult:
    """One regression, told three ways.

    `table`: the EFFECT_COLUMNS, a row per term, factors first and intercepts last. `sentences`: one per row of the
    table. `residuals`: a row per brew with `brew_id`, `coffee_id`, `method`, `brewed_at`, then `fitted`, `residual`
    (in the response's unit), `standardised` and `leverage` (null for a mixed model). `left_out`: brews per reason.
    `sigma`: spread of single brews; `group_sd`: spread between groups (None without a group intercept).
    `scope` is what the intervals of the factors speak for. `components`: standard deviation by random part, in the
    response's unit (a slope's per unit of its factor), "brew to brew" last; `dropped_components`: parts whose spread
    came out as zero. `slopes_by_coffee`: a row per coffee and factor; `coffee_sentences` the same in words where
    coffees are fewer than five. `alike`: whether coffees answer alike, per factor. `joint_tests`: F where a factor has
    several terms. `cluster_check`: CR2 per term. `tops`: where curves have their top, `surface`: where two
    or more together have it. `order`: what the order of brewing within sessions showed and was taken out.
    """

    request: EffectsRequest
    table: pl.DataFrame
    sentences: tuple[str, ...]
    residuals: pl.DataFrame
    notes: tuple[str, ...]
    model: str
    method: str
    dropped: str
    left_out: dict[str, int]
    n_brews: int
    n_coffees: int
    n_left_out: int
    sigma: float
    group_sd: float | None
    scope: Scope
    components: Mapping[str, float]
    dropped_components: tuple[str, ...]
    slopes_by_coffee: pl.DataFrame
    coffee_sentences: tuple[str, ...]
    alike: tuple[Alike, ...]
    joint_tests: pl.DataFrame
    cluster_check: pl.DataFrame
    tops: tuple[Top, ...]
    surface: Surface | None
    order: Ordered
