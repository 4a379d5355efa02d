"""A comparison in sentences; never that two sides are the same, only how far apart they may be."""

from __future__ import annotations

from analysis.comparisons.compare import ComparisonResult, Difference
from analysis.effects.factors import difference_unit, many
from analysis.effects.words import decimals
from analysis.words import count, method_word, number, sentence, signed, span
from schemas.columns import COLUMNS


def comparison_sentences(result: ComparisonResult) -> list[str]:
    """What was compared, one sentence per pair, and what would settle the open ones."""
    said = [_head(result), *(_difference(result, one) for one in result.differences), _next(result)]
    return [sentence(one) for one in (*said, *result.notes) if one]


def _head(result: ComparisonResult) -> str:
    request = result.request
    of = f"{count(result.n_brews, method_word(result.method) + ' brew')} of {count(result.n_coffees, 'coffee')}"
    pairs = count(len(result.differences), "difference")
    held = f", {' and '.join(request.adjust)} held at the mean" if request.adjust else ""
    together = "" if len(result.differences) == 1 else f"; intervals and p allow for all {pairs} at once"
    sides = count(len(result.sides), request.word, many(request.word))
    return f"{sides} compared in {_noun(request.response)}, {of}, {result.scope}{held}{together}"


def _noun(response: str) -> str:
    return response.removesuffix("_pct").removesuffix("_g").removesuffix("_s").replace("_", " ")


def _difference(result: ComparisonResult, one: Difference) -> str:
    unit = difference_unit(result.request.response)
    places = decimals(one.low, one.high)
    interval = f"95 % interval {span(one.low, one.high, places)}"
    said = (
        f"{result.request.word} {one.side} against {one.against}: {signed(one.estimate, places)} {unit} ({interval}, "
        f"{one.n_brews[0]} and {one.n_brews[1]} brews)"
    )
    return f"{said}: {_settled(result, one, unit)}"


def _settled(result: ComparisonResult, one: Difference, unit: str) -> str:
    margin = result.request.margin
    matters = "" if margin is None else f"{margin:g} {unit}"
    if one.settled == "no more than matters":
        return f"no difference larger than {matters}"
    if one.settled == "differ by no more than matters":
        return f"they differ, but by less than the {matters} that matter"
    if one.settled == "differ":
        sure = margin is not None and (one.low > margin or one.high < -margin)
        beyond = (
            ""
            if margin is None
            else f", and by more than the {matters} that matter"
            if sure
            else (f"; whether by more than the {matters} that matter is open")
        )
        return f"they differ{beyond}"
    if margin is None:
        return "these brews do not settle which is higher"
    return f"open: these brews settle neither a difference nor that it is smaller than {matters}"


def _next(result: ComparisonResult) -> str:
    """How many brews would settle what is open."""
    still = [one for one in result.differences if one.settled == "open"]
    if not still:
        return ""
    unit = COLUMNS[result.request.response].unit
    spread = (
        f"brews of one {result.request.word} scatter by {number(result.spread, 2)} {'points' if unit == '%' else unit}"
    )
    if result.request.margin is None:
        return (
            f"{spread}; say which difference matters (--difference, or difference_that_matters in study.toml) to learn "
            f"whether {many(result.request.word)} are alike, and how many brews that takes"
        )
    return (
        f"{spread}; about {still[0].needed} brews a side would find a difference of {result.request.margin:g} "
        f"{difference_unit(result.request.response)} in 8 of 10 such comparisons"
    )
