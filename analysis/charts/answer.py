"""The first screen: what can be said, and what to brew next or what stands in the way."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from analysis import words
from analysis.charts.effect_words import SaidEffect, change_in_words, single_effects
from analysis.charts.effects_input import EffectsLike, MethodEffects
from analysis.charts.plain_words import degrees, plain_words
from analysis.charts.trial_size import brews_at_each_setting
from analysis.effects.words import decimals

MOST_REASONS = 3
MOST_METHODS = 2
MAIN_SHARE = 0.25
"""A method speaks on the first screen if it has this share of the brews of the most brewed one."""
WORTH_KNOWING = 0.5
"""Points of yield between two settings that a planned trial should be able to show."""
MOST_BREWS = 60
POINTS = "Points are percentage points of extraction yield."
PICKED = (
    "Named here is the clearest setting of each of the methods brewed most; an effect picked because it is the "
    "clearest tends to look larger than it is. All stand under Effects on yield."
)
WEIGHED = "Ratio and yield are worked out from the same weights, so weighing noise alone makes part of this effect."


_DOUBTED = re.compile(r".*\bcounts? as (?:it stands|they stand)\b.*?(?=\.? Check (?:its|their) records|$)")


@dataclass(frozen=True, slots=True)
class Answer:
    """Sentences for the first screen: `said` (what moved the yield) with `note` (a caution), `next_step` (what to do).

    `reasons` says why that step, and how many brews it takes.
    `is_blocked`: the next step is something that stands in the way, not a brew.
    """

    said: tuple[str, ...]
    next_step: str
    reasons: tuple[str, ...] = ()
    note: str = ""
    is_blocked: bool = False


@dataclass(frozen=True)
class _Method:
    """One fitted method: its single effects and the scatter of like brews."""

    name: str
    result: EffectsLike
    effects: list[SaidEffect]

    @property
    def n_brews(self) -> int:
        return self.result.residuals.height

    @property
    def doubt(self) -> str:
        """The brews whose yield is hardly possible, in the words of the analysis; empty when there are none."""
        found = [hit[0] for note in self.result.notes if (hit := _DOUBTED.match(note))]
        return found[0].rstrip(".") if found else ""

    @property
    def check(self) -> str:
        """What to look at before this method is worth a trial; empty when nothing is in doubt."""
        return f"Check first: {words.method_word(self.name)}. {words.sentence(self.doubt)}" if self.doubt else ""

    def sentence(self, one: SaidEffect) -> str:
        return degrees(words.sentence(f"{words.method_word(self.name)}, {one.sentence}"))


def answer(effects: Sequence[MethodEffects], *, n_brews: int, n_yields: int) -> Answer:
    """What the analyses of the methods brewed most allow to say, the most brewed first.

    Each says its clearest setting that people turn: a factor that shares weights with the yield, or an outcome such
    as channeling, is never the headline while a setting is clear.
    """
    if n_yields == 0:
        return Answer((_no_yield_at_all(n_brews),), _what_a_yield_needs(n_brews), is_blocked=True)
    main = _main_methods(effects)
    if not main:
        return Answer(("What moved extraction cannot be said yet.",), _in_the_way(effects), is_blocked=True)
    said, note = _said(main) or (("No factor stands out from the noise yet.",), "")
    sound, checks = [one for one in main if not one.doubt], [one.check for one in main if one.doubt]
    step, *reasons = (_brew_next(sound) if sound else []) + checks
    return Answer(said, step, tuple(reasons), note, is_blocked=not sound)


def _main_methods(effects: Sequence[MethodEffects]) -> list[_Method]:
    fitted = [_Method(one.method, one.result, single_effects(one.result)) for one in effects if one.result is not None]
    speaking = sorted((one for one in fitted if one.effects), key=lambda one: -one.n_brews)
    return [one for one in speaking if one.n_brews >= MAIN_SHARE * speaking[0].n_brews]


def _said(main: list[_Method]) -> tuple[tuple[str, ...], str] | None:
    """The clearest setting of up to two methods, then channeling, with a caution; a ratio where nothing else is."""
    turned = [(one, best) for one in main if (best := _clearest(filter(_is_turned, one.effects)))][:MOST_METHODS]
    seen = [(one, best) for one in main if (best := _clearest(filter(_is_outcome, one.effects)))][:1]
    weighed = [(one, best) for one in main if (best := _clearest(filter(_is_weighed, one.effects)))][:1]
    picked = turned + seen or weighed
    if not picked:
        return None
    caution = PICKED if turned else WEIGHED if not seen else ""
    return tuple(one.sentence(best) for one, best in picked), f"{POINTS} {caution}".strip()


def _clearest(effects: Iterable[SaidEffect]) -> SaidEffect | None:
    return max((one for one in effects if one.is_settled), key=lambda one: one.clearness, default=None)


def _is_turned(one: SaidEffect) -> bool:
    return one.factor.role == "setting" and not one.shares_weights


def _is_weighed(one: SaidEffect) -> bool:
    return one.factor.role == "setting" and one.shares_weights


def _is_outcome(one: SaidEffect) -> bool:
    return one.factor.role == "outcome"


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
    reasons = [
        f"{words.capital(words.method_word(one.method))}: {plain_words(one.refusal)}" for one in effects if one.refusal
    ]
    return " ".join(reasons[:MOST_REASONS]) if reasons else "There is no method with enough brews to compare."


def _brew_next(main: list[_Method]) -> list[str]:
    """In the most brewed method that has one: the setting of open direction that could hide most, ratios last."""
    for wanted in (_is_turned, _is_weighed):
        for one in main:
            unsettled = [effect for effect in one.effects if wanted(effect) and not effect.is_settled]
            if unsettled:
                return _trial(one, max(unsettled, key=lambda effect: max(-effect.row["low"], effect.row["high"])))
    return [
        f"Brew next: three repeats of the recipe you would choose for {words.method_word(main[0].name)}, to see "
        "whether it holds.",
        "Why: in the methods brewed most, the direction of every setting tried is settled.",
    ]


def _trial(method: _Method, one: SaidEffect) -> list[str]:
    low, high = one.row["low"], one.row["high"]
    places = decimals(low, high)
    return [
        f"Brew next: {words.method_word(method.name)} at two settings of {one.factor.noun}, further apart than so far, "
        "in mixed order, with one coffee and all else the same.",
        degrees(
            f"Why: its direction is open. {words.capital(change_in_words(one.row))} could mean anything from "
            f"{words.signed(low, places)} to {words.signed(high, places)} points."
        ),
        *_how_many(method.result.sigma),
    ]


def _how_many(scatter: float) -> list[str]:
    """How many brews the trial takes, from the scatter of like brews in this log."""
    if not scatter > 0:
        return []
    n = brews_at_each_setting(scatter, WORTH_KNOWING)
    like = f"scatter by {words.number(scatter, 2)} points (standard deviation)"
    if n > MOST_BREWS:
        return [
            f"Before that, find what scatters: brews of this method to like settings {like}, so even {MOST_BREWS} at "
            f"each setting would often miss a difference of {WORTH_KNOWING:g} points."
        ]
    return [
        f"How many: {n} brews at each setting show a difference of {WORTH_KNOWING:g} points in four trials of five, if "
        f"like brews still {like}, as they did so far."
    ]
