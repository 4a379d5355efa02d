"""The first screen: what can be said, and what to brew next or what stands in the way."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from analysis import words
from analysis.charts.effect_words import SaidEffect, change_in_words, single_effects
from analysis.charts.effects_input import MethodEffects
from analysis.effects.words import decimals

MOST_SENTENCES = 3
Found = list[tuple[str, list[SaidEffect]]]


@dataclass(frozen=True, slots=True)
class Answer:
    """Sentences for the first screen: `said` (what moved the yield) and `next_step` (what to do now).

    `is_blocked`: the next step is something that stands in the way, not a brew.
    """

    said: tuple[str, ...]
    next_step: str
    is_blocked: bool = False


def answer(effects: Sequence[MethodEffects], *, n_brews: int, n_yields: int) -> Answer:
    """What the analyses allow to say: the clearest effect of each method, the clearest method first.

    An effect whose factor shares weights with the yield is said only where no other is clear.
    """
    if n_yields == 0:
        return Answer((_no_yield_at_all(n_brews),), _what_a_yield_needs(n_brews), is_blocked=True)
    found: Found = [(one.method, single_effects(one.result)) for one in effects if one.result is not None]
    found = [(method, said) for method, said in found if said]
    if not found:
        return Answer(("What moved extraction cannot be said yet.",), _in_the_way(effects), is_blocked=True)
    clear = [(method, [one for one in said if one.is_settled]) for method, said in found]
    settled = [(method, max(said, key=_first_to_say)) for method, said in clear if said]
    settled.sort(key=lambda pair: _first_to_say(pair[1]), reverse=True)
    if not settled:
        return Answer(("No factor stands out from the noise yet.",), _brew_next(found))
    said = tuple(words.sentence(f"{words.method_word(m)}, {one.sentence}") for m, one in settled[:MOST_SENTENCES])
    return Answer(said, _brew_next(found))


def _first_to_say(one: SaidEffect) -> tuple[bool, float]:
    return not one.shares_weights, one.clearness


def _no_yield_at_all(n_brews: int) -> str:
    if n_brews == 0:
        return "There are no brews yet."
    return f"What moved extraction cannot be said: none of the {words.count(n_brews, 'brew')} has an extraction yield."


def _what_a_yield_needs(n_brews: int) -> str:
    if n_brews == 0:
        return "Log the first brews and take them in."
    return (
        "A yield needs the dose, the beverage weight (for full immersion the water weight) and a strength reading; "
        "see below which is missing."
    )


def _in_the_way(effects: Sequence[MethodEffects]) -> str:
    reasons = [f"{words.capital(words.method_word(one.method))}: {one.refusal}" for one in effects if one.refusal]
    return " ".join(reasons[:MOST_SENTENCES]) if reasons else "There is no method with enough brews to compare."


def _brew_next(found: Found) -> str:
    """The setting whose effect is known least: an interval across zero, the one that could hide most."""
    settings = [(method, one) for method, said in found for one in said if one.factor.role == "setting"]
    unsettled = [(method, one) for method, one in settings if not one.is_settled]
    if not unsettled:
        return (
            "The direction of every setting tried is settled. Brew next: three repeats of the recipe you would "
            "choose, to see whether it holds."
        )
    method, one = max(unsettled, key=lambda pair: max(-pair[1].row["low"], pair[1].row["high"]))
    low, high = one.row["low"], one.row["high"]
    places = decimals(low, high)
    return (
        f"Brew next: {words.method_word(method)} at two settings of {one.factor.noun}, further apart than so far and "
        f"in mixed order. Its effect is the least certain: {change_in_words(one.row)} could mean anything from "
        f"{words.signed(low, places)} to {words.signed(high, places)} points."
    )
