"""The first screen: what can be said, and what to brew next or what stands in the way."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from analysis import words
from analysis.charts.effect_words import Row, change_in_words, effect_sentence, factor_of, is_settled, linear_rows
from analysis.charts.effects_input import MethodEffects
from analysis.effects.factors import FACTORS

MOST_SENTENCES = 3


@dataclass(frozen=True, slots=True)
class Answer:
    """Sentences for the first screen: `said` (what moved the yield) and `next_step` (what to do now).

    `is_blocked`: the next step is something that stands in the way, not a brew.
    """

    said: tuple[str, ...]
    next_step: str
    is_blocked: bool = False


def answer(effects: Sequence[MethodEffects], *, n_brews: int, n_yields: int) -> Answer:
    """What the analyses allow to say: the clearest effect of each method, the clearest method first."""
    if n_yields == 0:
        return Answer((_no_yield_at_all(n_brews),), _what_a_yield_needs(n_brews), is_blocked=True)
    rows = [(one.method, linear_rows(one.result.table)) for one in effects if one.result]
    rows = [(method, found) for method, found in rows if found]
    if not rows:
        return Answer(("What moved extraction cannot be said yet.",), _in_the_way(effects), is_blocked=True)
    clearest = [(method, max(found, key=_clearness)) for method, found in rows]
    settled = sorted((pair for pair in clearest if is_settled(pair[1])), key=lambda pair: -_clearness(pair[1]))
    if not settled:
        return Answer(("No factor stands out from the noise yet.",), _brew_next(rows))
    said = tuple(f"{_of_method(method, effect_sentence(row))}." for method, row in settled[:MOST_SENTENCES])
    return Answer(said, _brew_next(rows))


def _clearness(row: Row) -> float:
    """How far the estimate lies from zero, in half widths of its interval."""
    half = (row["high"] - row["low"]) / 2
    return float(abs(row["estimate"]) / half) if half > 0 else 0.0


def _of_method(method: str, text: str) -> str:
    return f"{words.capital(words.method_word(method))}, {text}"


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
    reasons = [_of_method(one.method, one.refusal) for one in effects if one.refusal]
    return " ".join(reasons[:MOST_SENTENCES]) if reasons else "There is no method with enough brews to compare."


def _brew_next(rows: Sequence[tuple[str, list[Row]]]) -> str:
    """The setting whose effect is known least: an interval across zero, the one that could hide most."""
    settable = [(m, row) for m, found in rows for row in found if FACTORS[factor_of(row["term"])].role == "setting"]
    unsettled = [(method, row) for method, row in settable if not is_settled(row)]
    if not unsettled:
        return (
            "The direction of every setting tried is settled. Brew next: three repeats of the recipe you would "
            "choose, to see whether it holds."
        )
    method, row = max(unsettled, key=lambda pair: max(-pair[1]["low"], pair[1]["high"]))
    noun = FACTORS[factor_of(row["term"])].noun
    change = change_in_words(row["term"], row["step"], row["per"])
    return (
        f"Brew next: {words.method_word(method)} at two settings of {noun}, further apart than so far and in mixed "
        f"order. Its effect is the least certain: {change} could mean anything from {words.signed(row['low'], 2)} to "
        f"{words.signed(row['high'], 2)} points."
    )
