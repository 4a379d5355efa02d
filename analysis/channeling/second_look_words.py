"""Sentences about brews nobody looked at, and about unflagged brews that deserve a second look."""

from __future__ import annotations

from analysis.channeling.bounds import Rate, Turn, UnseenBounds
from analysis.channeling.matched import MatchedEffect
from analysis.channeling.screen import FALSE_SHARE, FAMILY_ALARM, LowBrew, LowYieldScreen
from analysis.channeling.seen import NotShown
from analysis.channeling.unseen import KindGap, MeasureGap
from analysis.channeling.words import brew_word, points_span
from analysis.effects.factors import GROUPS, many
from analysis.words import count, more_or_less, number, span
from schemas.columns import COLUMNS

TURN_WORDS: dict[Turn, str] = {
    "holds": "The direction stands either way, so not looking would have to be picky by yield to turn it.",
    "could turn": "The finding does not stand both ways: not looking could turn it.",
    "not settled anyway": "The brews looked at do not settle the direction, so there is nothing for the rest to turn.",
    "cannot be told": "The comparison cannot be made each way, so what not looking could do is not known.",
}
NOUNS = {"extraction_yield_pct": "yield", "grind_steps_finer": "grind", "dose_g": "dose"}
DIGITS = {"dose_g": 2}


def bounds_sentences(bounds: UnseenBounds, *, method: str) -> list[str]:
    """The rate and the effect with every unseen brew clean and with every one channeled, and how those brews differ."""
    word = brew_word(method)
    seen = f"; as looked at, {_rate(bounds.rate)}" if bounds.rate else ""
    return [
        f"{count(bounds.n_not_looked_at, f'{word} was', f'{word}s were')} not looked at. With all of them clean the "
        f"rate of channeling is {_rate(bounds.rate_if_clean)}, with all of them channeled "
        f"{_rate(bounds.rate_if_channeled)}{seen}.",
        f"At the same recipe: as looked at, {_effect(bounds.effect)}; with all of them clean, "
        f"{_effect(bounds.effect_if_clean)}; with all of them channeled, {_effect(bounds.effect_if_channeled)}.",
        TURN_WORDS[bounds.turn],
        *(_measure(gap, word) for gap in bounds.measures),
        *(_kind(gap, word) for gap in bounds.kinds),
    ]


def _rate(rate: Rate) -> str:
    return f"{number(rate.pct, 0)} % (95 % interval {span(rate.low_pct, rate.high_pct, 0)} %)"


def _effect(effect: MatchedEffect | NotShown) -> str:
    if isinstance(effect, NotShown):
        return "no comparison can be made"
    return (
        f"channeled ones yield {more_or_less(effect.difference, 1, 'points')} ({points_span(effect.low, effect.high)})"
    )


def _measure(gap: MeasureGap, word: str) -> str:
    way = "higher" if gap.standardised > 0 else "lower"
    digits, unit = DIGITS.get(gap.name, 1), COLUMNS[gap.name].unit
    return (
        f"Mean {NOUNS[gap.name]} of the {gap.n_not_looked_at} {word}s not looked at: "
        f"{number(gap.not_looked_at, digits)} {unit}, against {number(gap.looked_at, digits)} {unit} of "
        f"{gap.n_looked_at} looked at: {number(abs(gap.standardised), 2)} standard deviations {way}, "
        f"{_chance(gap.beyond_chance)}."
    )


def _chance(beyond: bool) -> str:
    return "more than chance alone gives" if beyond else "no more than chance alone may give"


def _kind(gap: KindGap, word: str) -> str:
    noun = GROUPS[gap.name]
    return (
        f"{many(noun).capitalize()} ({gap.n_levels}): {number(gap.standardised, 2)} standard deviations apart, "
        f"{_chance(gap.beyond_chance)}; most so {noun} {gap.level}, with {gap.unlooked} of "
        f"{count(gap.of_level, word)} not looked at."
    )


def screen_sentences(screen: LowYieldScreen, *, method: str) -> list[str]:
    """The brews to look at again, with what they yielded, what their recipe predicts, and how often this errs."""
    word = brew_word(method)
    strong = sum(low.strong for low in screen.found)
    rests = f"predicted from {screen.model}, scatter {number(screen.sd, 2)} points, {screen.df} degrees of freedom"
    said = [
        f"{count(screen.n_tested, f'unflagged {word}')} set against what the recipe predicts ({rests}): "
        f"{count(strong, 'stands', 'stand')} out beyond chance, "
        f"{count(len(screen.found) - strong, 'more is', 'more are')} worth a look."
    ]
    said += [_low(low) for low in screen.found]
    if screen.found:
        said.append(
            "Look at these again; a low yield alone does not say that a brew channeled. In a log without any, a "
            f"brew comes out beyond chance in at most {100 * FAMILY_ALARM:.0f} of 100 logs; of all brews named here at "
            f"most {100 * FALSE_SHARE:.0f} in 100 are there by chance, on average. Several such brews hide one another."
        )
    else:
        said.append("That does not say that none of them channeled: a smaller loss, or several at once, stays hidden.")
    if screen.n_alone or screen.n_incomplete:
        said.append(
            f"Not judged: {screen.n_alone} without a like to judge by, {screen.n_incomplete} without a value the "
            "prediction needs."
        )
    return said


def _low(low: LowBrew) -> str:
    noted = "noted as clean" if low.looked_at else "not looked at"
    strength = "beyond chance" if low.strong else "worth a look"
    return (
        f"{low.brew_id} ({noted}) yielded {number(low.yielded, 1)} %; its recipe predicts {number(low.predicted, 1)} % "
        f"(95 % interval for one such brew {span(low.low, low.high, 1)} %), "
        f"{more_or_less(low.yielded - low.predicted, 1, 'points')}: {strength}."
    )
