"""Effects in words: numbers rounded to what the interval supports, the model, and one sentence a row."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING

from analysis.effects.design import Term
from analysis.effects.factors import FACTORS, plural
from analysis.effects.fit import Fit
from analysis.effects.request import EffectsRequest
from analysis.effects.structure import Scope
from analysis.outcomes.noise_bias import NoiseBias
from analysis.words import listed
from schemas.methods import METHOD_WORDS

if TYPE_CHECKING:
    from analysis.effects.model import Groups

MAX_DECIMALS = 6
NOT_STATED = ": not stated. "
READ = ("extraction_yield_pct", "extraction_yield_dry_pct", "tds_pct", "cup_tds_pct", "dissolved_g")
"""Responses made from readings: an instrument that reads high lifts every level, and hardly a difference."""


def decimals(low: float, high: float) -> int:
    """Decimals worth showing: two digits of half the interval, one where that starts with 4 to 9.

    An end that is not zero is never shown as zero.

    >>> decimals(0.30, 0.54), decimals(-2.4, -1.4), decimals(0.003, 0.54)
    (2, 1, 3)
    """
    half = (high - low) / 2
    if not math.isfinite(half) or half <= 0:
        return 2
    exponent = math.floor(math.log10(half))
    places = 1 - exponent if half / 10**exponent < 3.55 else -exponent
    places = max(0, places)
    ends = [end for end in (low, high) if end != 0]
    while places < MAX_DECIMALS and any(round(end, places) == 0 for end in ends):
        places += 1
    return places


def signed(value: float, places: int) -> str:
    """A change with its sign; zero has none."""
    shown = plain(value, places)
    return shown if shown.startswith("-") or round(value, places) == 0 else f"+{shown}"


def plain(value: float, places: int) -> str:
    """A number without a minus before zero."""
    return f"{round(value, places) + 0.0:.{places}f}"


def sentence(
    term: Term,
    request: EffectsRequest,
    *,
    estimate: float,
    low: float,
    high: float,
    unit: str,
    n_brews: int,
    of: str,
    scope: Scope,
    bends: str = "",
    shared: Sequence[str] = (),
    measuring: NoiseBias | None = None,
) -> str:
    """One row of the effects table in words; `of` counts the coffees, `scope` says what the interval speaks for.

    `bends` says which way a straight slope seems to bend, `shared` the weights that a factor has with the response,
    `measuring` what errors of measuring the factor are expected to have done to its slope: a slope that is mostly that
    is not stated.
    """
    if measuring is not None and measuring.withheld:
        head = _head(term, request).format(amount="").removesuffix(": ")
        return f"{head}{NOT_STATED}{_measuring(measuring, term, unit, low, high)}"
    said = change_and_interval(term, request, estimate=estimate, low=low, high=high, unit=unit)
    said = f"{said}, {plural('brew', n_brews)} of {of}, {scope}"
    if not term.factors:
        return f"{said}; an error common to all readings is not in it" if request.response in READ else said
    share = "; both sides share weights, so part of it may be weighing noise" if shared and not measuring else ""
    share = _measuring(measuring, term, unit, low, high) if measuring is not None else share
    bend = f"; it seems to bend {bends}, so one slope may mislead" if bends else ""
    return f"{said}{_reading(term, low, high)}{bend}{share}"


def _measuring(bias: NoiseBias, term: Term, unit: str, low: float, high: float) -> str:
    """What errors of measuring did to a slope, as the end of its sentence; "" where that is too little to say."""
    said = bias.sentence(step=term.step or 1.0, unit=unit, places=decimals(low, high))
    return f"; {said[:1].lower()}{said[1:]}" if said and not bias.withheld else said


def change_and_interval(
    term: Term, request: EffectsRequest, *, estimate: float, low: float, high: float, unit: str
) -> str:
    """The change and what it did, or the level at the means, with the 95 % interval."""
    places = decimals(low, high)
    amount = f"{signed(estimate, places) if term.factors else plain(estimate, places)} {unit}".rstrip()
    return f"{_head(term, request).format(amount=amount)}, 95 % interval {plain(low, places)} to {plain(high, places)}"


def _head(term: Term, request: EffectsRequest) -> str:
    where = term.place
    if not term.factors:
        return f"at the factors' means{where}: {{amount}}"
    changes = [FACTORS[name].change_words(request.step(name)) for name in term.factors]
    if len(changes) == 1:
        return f"{changes[0]}{where}: {{amount}}"
    if term.factors[0] == term.factors[1]:
        return f"curve of {FACTORS[term.factors[0]].noun}{where}: {{amount}} per {term.per.removesuffix(where)}"
    return f"{changes[0]} and {changes[1]} together{where}: {{amount}} beyond what each adds alone"


def _reading(term: Term, low: float, high: float) -> str:
    """What the interval says beyond its numbers; never that there is no effect."""
    square = len(term.factors) == 2 and term.factors[0] == term.factors[1]
    if low <= 0 <= high:
        what = "whether it bends" if square else "the direction"
        return f"; the interval includes zero, so these brews do not settle {what}"
    if square:
        return "; the line bends down" if high < 0 else "; the line bends up"
    return ""


def model_words(fit: Fit, groups: Groups, request: EffectsRequest, *, group: str, method: str, several: bool) -> str:
    """The model in words: method, estimator, what was done with a spread of zero."""
    names = method.replace(" and ", ", ").split(", ")  # as `ChosenRows.method` lists those pooled
    parts = [listed([METHOD_WORDS.get(name, name) for name in names]), *_estimator(fit)]
    if request.pool_methods:
        parts.append("slopes and an intercept of each method")
    if several:
        parts.append("one slope and one intercept per grinder")
    if groups.kind == "absorbed":
        parts.append(f"the intercepts stand for the levels of the {plural(group, groups.count)} too")
    if groups.kind == "one brew each":
        parts.append(f"one brew of each {group}, so no level of its own")
    if request.curves or request.crosses:
        parts.append("linear terms are slopes at the means")
    return "; ".join(parts)


def _estimator(fit: Fit) -> list[str]:
    dropped = listed([_spread(name) for name in fit.dropped])
    zero = f"the spread of {dropped} came out as zero"
    it, they = ("it was", "only that was") if len(fit.dropped) == 1 else ("they were", "only those were")
    if fit.kind == "robust":
        said = ["least squares, HC3 standard errors, t(n - p)"]
        return [f"{zero}, so {it} dropped", *said] if dropped else said
    if fit.kind == "classical":
        return [
            f"singular mixed model: {zero}, so {it} dropped",
            "least squares, classical standard errors, t(n - p)",
        ]
    kept = _kept(fit.components) or "likeness of neighbouring brews"
    said = [f"mixed model, {kept} (REML), Satterthwaite degrees of freedom"]
    return [*said, f"{zero}, so {they} dropped"] if dropped else said


def _kept(names: Iterable[str]) -> str:
    """Random parts in words: 'one intercept per coffee and per session, a slope of water_temp_c by coffee'."""
    levels = [f"per {name}" for name in names if " by " not in name]
    said = [f"one intercept {listed(levels)}"] if levels else []
    return ", ".join([*said, *(f"a slope of {name}" for name in names if " by " in name)])


def _spread(name: str) -> str:
    return f"the slope of {name}" if " by " in name else f"the intercept per {name}"
