"""Effects in words: numbers rounded to what the interval supports, the model, and one sentence a row."""

from __future__ import annotations

import math
from collections.abc import Sequence

from analysis.effects.design import Term
from analysis.effects.factors import FACTORS, plural
from analysis.effects.fit import Fit
from analysis.effects.model import Groups
from analysis.effects.request import EffectsRequest
from schemas.methods import METHOD_WORDS

MAX_DECIMALS = 6
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
    bends: str = "",
    shared: Sequence[str] = (),
) -> str:
    """One row of the effects table in words; `of` names the coffees.

    `bends` says which way a straight slope seems to bend, `shared` the weights that a factor has with the response.
    """
    said = change_and_interval(term, request, estimate=estimate, low=low, high=high, unit=unit)
    said = f"{said}, {plural('brew', n_brews)} of {of}"
    if not term.factors:
        return f"{said}; an error common to all readings is not in it" if request.response in READ else said
    share = "; both sides share weights, so part of it may be weighing noise" if shared else ""
    bend = f"; it seems to bend {bends}, so one slope may mislead" if bends else ""
    return f"{said}{_reading(term, low, high)}{bend}{share}"


def change_and_interval(
    term: Term, request: EffectsRequest, *, estimate: float, low: float, high: float, unit: str
) -> str:
    """The change and what it did, or the level at the means, with the 95 % interval."""
    places = decimals(low, high)
    amount = f"{signed(estimate, places) if term.factors else plain(estimate, places)} {unit}".rstrip()
    return f"{_head(term, request).format(amount=amount)}, 95 % interval {plain(low, places)} to {plain(high, places)}"


def _head(term: Term, request: EffectsRequest) -> str:
    where = f" on {term.grinder}" if term.grinder else ""
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
    """The model in words: method, estimator, what was done with a singular fit."""
    parts = [METHOD_WORDS.get(method, method), _estimator(fit, groups, group)]
    if several:
        parts.append("one slope and one intercept per grinder")
    if groups.kind == "absorbed":
        parts.append(f"the intercepts stand for the levels of the {plural(group, groups.count)} too")
    if groups.kind == "one brew each":
        parts.append(f"one brew of each {group}, so no level of its own")
    if request.curves or request.crosses:
        parts.append("linear terms are slopes at the means")
    return "; ".join(parts)


def _estimator(fit: Fit, groups: Groups, group: str) -> str:
    if fit.kind == "mixed":
        return f"mixed model, one intercept per {group} (REML), Satterthwaite degrees of freedom"
    if fit.kind == "robust":
        return "least squares, HC3 standard errors, t(n - p)"
    return (
        f"singular mixed model: the spread between the {plural(group, groups.count)} came out as zero, so that "
        "intercept was dropped; least squares, classical standard errors, t(n - p)"
    )
