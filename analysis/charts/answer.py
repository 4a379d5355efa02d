"""What moved extraction, in the one to three sentences that the analyses allow."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from analysis import words
from analysis.charts.effect_words import SaidEffect, single_effects
from analysis.charts.effects_input import MethodEffects
from analysis.charts.plain_words import degrees

MOST_METHODS = 2
MAIN_SHARE = 0.25
"""A method speaks on the first screen if it has this share of the brews of the most brewed one."""
POINTS = "Points are percentage points of extraction yield."
PICKED = (
    "Named here is the clearest setting that shares no weights with the yield, of each of the methods brewed most; an "
    "effect picked because it is the clearest tends to look larger than it is. All stand below."
)
WEIGHED = "Ratio and yield are worked out from the same weights, so weighing noise alone makes part of this effect."


@dataclass(frozen=True, slots=True)
class Answer:
    """Sentences for the first screen: `said` (what moved the yield) with `note` (a caution)."""

    said: tuple[str, ...]
    note: str = ""


@dataclass(frozen=True)
class _Method:
    """One fitted method with its single effects."""

    name: str
    effects: list[SaidEffect]
    n_brews: int

    def sentence(self, one: SaidEffect) -> str:
        return degrees(words.sentence(f"{words.method_word(self.name)}, {one.sentence}"))


def answer(effects: Sequence[MethodEffects], *, n_brews: int, n_yields: int) -> Answer:
    """What the analyses of the methods brewed most allow to say, the most brewed first.

    Each says its clearest setting that people turn: a factor that shares weights with the yield, or an outcome such
    as channeling, is never the headline while a setting is clear.
    """
    if n_yields == 0:
        return Answer((_no_yield_at_all(n_brews),))
    main = _main_methods(effects)
    if not main:
        return Answer(("What moved extraction cannot be said yet.",))
    said, note = _said(main) or (("No factor stands out from the noise yet.",), "")
    return Answer(said, note)


def _main_methods(effects: Sequence[MethodEffects]) -> list[_Method]:
    fitted = [
        _Method(one.method, single_effects(one.result), one.result.residuals.height)
        for one in effects
        if one.result is not None
    ]
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
    return max(
        (one for one in effects if one.is_settled and one.is_stated), key=lambda one: one.clearness, default=None
    )


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
