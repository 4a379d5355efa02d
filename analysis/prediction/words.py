"""A prediction in sentences: what is expected, how surely, and for whom; never what a brew is bound to give."""

from __future__ import annotations

import math

from analysis.effects.factors import FACTORS
from analysis.effects.words import decimals
from analysis.prediction.request import WORD, Window
from analysis.prediction.result import Expected, Found, Landing, Prediction
from analysis.prediction.rows import setting_words
from analysis.words import count, listed, method_word, number, sentence, span

PLACES = {"extraction_yield_pct": 1, "cup_tds_pct": 2}


def prediction_sentences(result: Prediction) -> list[str]:
    """What was asked, what is expected, the chance of landing, and what was found; then what to know."""
    said = [*_found(result), _head(result), *(_expected(one, result) for one in result.expected)]
    if result.landing is not None:
        said.append(_landing(result.landing, result))
    return [sentence(one) for one in (*said, *result.notes) if one]


def recipe_words(result: Prediction) -> str:
    """The settings in words, those held at their mean marked."""
    shown = [
        setting_words(name, value) + (" (held at its mean)" if name in result.held else "")
        for name, value in result.settings.items()
    ]
    return listed(shown)


def _head(result: Prediction) -> str:
    whom = "a new coffee" if result.coffee is None else result.coffee
    own = f", {result.n_brews_coffee} of {result.coffee}" if result.coffee is not None and result.n_coffees > 1 else ""
    on = f" on {result.grinder}" if result.grinder is not None else ""
    brews = count(result.n_brews, f"{method_word(result.method)} brew")
    best = "the best of these, " if result.found is not None else ""
    return f"{best}{recipe_words(result)}{on}, {whom}: from {brews} of {count(result.n_coffees, 'coffee')}{own}"


def _expected(one: Expected, result: Prediction) -> str:
    places = max(decimals(one.low, one.high), PLACES[one.response])
    wide = max(decimals(one.brew_low, one.brew_high), PLACES[one.response])
    return (
        f"expected {WORD[one.response]} {number(one.value, places)} % (95 % interval of the mean "
        f"{span(one.low, one.high, places)} %); one brew is expected between {number(one.brew_low, wide)} and "
        f"{number(one.brew_high, wide)} % in 95 of 100 cases, {result.scope}"
    )


def window_words(window: Window) -> str:
    """The window in words."""
    said = []
    for name in window.bounded:
        low, high = window.ends(name)
        said.append(f"{WORD[name]} {low:g} to {high:g} %")
    return listed(said)


def _landing(landing: Landing, result: Prediction) -> str:
    source = f", {landing.window.source}" if landing.window.source else ""
    return (
        f"chance that one brew lands in the window ({window_words(landing.window)}{source}): {share(landing.chance)} "
        f"(95 % interval {share(landing.low)} to {share(landing.high)}), {result.scope}; yield and strength of brews "
        f"at one recipe go together (correlation {number(result.correlation, 2)})"
    )


def share(value: float) -> str:
    """A chance in whole percent, rounded down so that 79.9 % does not pass for 80; never none or all.

    >>> share(0.624), share(0.799), share(0.002), share(0.9991)
    ('62 %', '79 %', 'under 1 %', 'over 99 %')
    """
    if value < 0.01:
        return "under 1 %"
    return "over 99 %" if value > 0.99 else f"{math.floor(100 * value + 1e-9)} %"


def _found(result: Prediction) -> list[str]:
    found = result.found
    if found is None or result.request.window is None:
        return []
    least = share(result.request.least_chance)
    tried = f"{count(found.n_tried, 'setting')} inside the region brewed"
    if not found.n_land:
        return [
            f"none of {tried} lands in the window ({window_words(result.request.window)}) with a chance of at least "
            f"{least}, {result.scope}"
        ]
    land = f"{found.n_land:,} of {tried} {'lands' if found.n_land == 1 else 'land'}"
    return [
        f"{land} in the window ({window_words(result.request.window)}) with a chance of at least {least}, "
        f"{result.scope}: {_spans(found)}"
    ]


def _spans(found: Found) -> str:
    said = []
    for name, (low, high) in found.spans.items():
        ends = setting_words(name, low) if low == high else f"{setting_words(name, low)} to {_end(name, high)}"
        said.append(ends)
    return f"{listed(said)} (not every combination of these)" if len(said) > 1 else listed(said)


def _end(name: str, value: float) -> str:
    """The far end of a span, without the factor's name again."""
    return setting_words(name, value).removeprefix(f"{FACTORS[name].noun} ")
