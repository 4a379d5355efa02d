"""The fit of a design with its random parts, and with whatever the order of brewing shows taken out of it."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import polars as pl
from scipy import stats

from analysis.effects.checks import MIN_SPARE, RANK_TOLERANCE
from analysis.effects.design import Design
from analysis.effects.factors import GROUPS, difference_unit
from analysis.effects.fit import Fit, Floats, NoFit
from analysis.effects.ols import fit_ols, pinned_rows
from analysis.effects.random_fit import as_fit, first_terms, fit_random
from analysis.effects.request import EffectsRequest
from analysis.effects.session_order import SessionOrder, find_order, likeness
from analysis.effects.structure import Structure
from analysis.effects.words import decimals, plain, signed
from analysis.mixed.model import RandomPart
from analysis.mixed.serial import SerialFit, fit_serial
from schemas.problem import ProblemError

SURE = 0.05
"""A drift, or a likeness of neighbours, is taken out below this p-value."""


@dataclass(frozen=True)
class Ordered:
    """What the order of brewing showed: `drift` per brew and half its interval (None: not taken out), `rho` likewise.

    `notes` says it in words; `looked` is False where too few brews followed each other to tell.
    """

    looked: bool = False
    drift: float | None = None
    drift_half_width: float | None = None
    rho: float | None = None
    notes: tuple[str, ...] = ()


@dataclass(frozen=True)
class _Data:
    y: Floats
    x: Floats
    parts: tuple[RandomPart, ...]
    group: str
    slopes: frozenset[str]
    robust: bool


def fit_in_order(
    brews: pl.DataFrame, request: EffectsRequest, design: Design, structure: Structure, y: Floats, *, robust: bool
) -> tuple[Fit, Ordered, tuple[RandomPart, ...], Floats]:
    """The fit, what the order showed, the random parts and columns it was made with.

    First a straight drift within sessions is looked for, then whether neighbours still resemble each other; each is
    taken out only where it shows. `robust` asks for HC3 errors where no spread of levels is left.
    """
    word = GROUPS[request.group]
    fit, data, notes = _sure(
        _Data(y, design.x, structure.parts, word, frozenset(structure.slopes.values()), robust), keep=word
    )
    order = find_order(brews)
    if order is None:
        return fit, Ordered(notes=notes), data.parts, data.x
    seen = Ordered(looked=True, notes=notes)
    fit, data, seen = _with_drift(fit, data, seen, order, request)
    fit, seen = _with_likeness(fit, data, seen, order)
    return first_terms(fit, design.x.shape[1]), seen, data.parts, data.x


def _fit(data: _Data) -> Fit | NoFit:
    if not data.parts:
        return fit_ols(data.y, data.x)
    fit = fit_random(data.y, data.x, data.parts, group=data.group, slopes=data.slopes)
    if data.robust and isinstance(fit, Fit) and fit.kind == "classical":
        return replace(fit_ols(data.y, data.x), dropped=fit.dropped)
    return fit


def _sure(data: _Data, *, keep: str) -> tuple[Fit, _Data, tuple[str, ...]]:
    """A fit, if need be without the last of the parts beside the group; what had to go is said."""
    notes: list[str] = []
    while True:
        fit = _fit(data)
        if isinstance(fit, Fit):
            return fit, data, tuple(notes)
        beside = [part for part in data.parts if part.name != keep]
        if not beside:
            raise ProblemError(f"No effect can be shown: {fit.reason}. Leave a factor out, or brew more.")
        notes.append(f"The levels of {beside[-1].name} are not in the model: {fit.reason}.")
        data = replace(data, parts=tuple(part for part in data.parts if part is not beside[-1]))


def _with_drift(
    fit: Fit, data: _Data, seen: Ordered, order: SessionOrder, request: EffectsRequest
) -> tuple[Fit, _Data, Ordered]:
    wider = np.column_stack([data.x, order.centred])
    if "run_order" in request.factors or not _can_carry(wider):
        return fit, data, seen
    other = _fit(replace(data, x=wider))
    if isinstance(other, NoFit):
        return fit, data, seen
    drift, half = float(other.estimate[-1]), other.half_width(other.estimate.size - 1)
    p_value = 2 * stats.t.sf(abs(drift / other.std_error[-1]), other.df[-1])
    if not p_value < SURE:
        return fit, data, seen
    places, unit = decimals(drift - half, drift + half), difference_unit(request.response)
    note = (
        f"{request.response} drifts within a {order.word}: {signed(drift, places)} {unit} a brew, 95 % interval "
        f"{plain(drift - half, places)} to {plain(drift + half, places)}. The effects are stated with that taken out."
    )
    after = replace(seen, drift=drift, drift_half_width=half, notes=(*seen.notes, note))
    return other, replace(data, x=wider), after


def _can_carry(x: Floats) -> bool:
    """Whether the last column says something that the others do not, and brews are left to judge it by."""
    n, p = x.shape
    length = np.sqrt(np.sum(x * x, axis=0))
    if length[-1] == 0 or n < p + MIN_SPARE:
        return False
    return bool(np.linalg.svd(x / length, compute_uv=False)[-1] > RANK_TOLERANCE) and not pinned_rows(x)


def _with_likeness(fit: Fit, data: _Data, seen: Ordered, order: SessionOrder) -> tuple[Fit, Ordered]:
    seen_alike = likeness(fit.residual, order)
    if seen_alike is None or not seen_alike.p_value < SURE:
        return fit, seen
    found = fit_serial(data.y, data.x, data.parts, session=order.session, order=order.place)
    if not isinstance(found, SerialFit) or not found.p_value < SURE:
        return fit, seen
    note = (
        f"Neighbouring brews of a {order.word} resemble each other beyond what the factors explain (correlation "
        f"{found.rho:.2f} from one brew to the next, {seen_alike.n_pairs} pairs); the intervals allow for that."
    )
    return as_fit(found.fit, data.group), replace(seen, rho=found.rho, notes=(*seen.notes, note))
