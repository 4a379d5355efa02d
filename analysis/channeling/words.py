"""Sentences about channeling, made from numbers: how often, what goes with it, what channeled brews yielded."""

from __future__ import annotations

from dataclasses import dataclass

from analysis.channeling.bounds import Rate
from analysis.channeling.matched import MatchedEffect
from analysis.channeling.resample import ResampledChange
from analysis.channeling.risk import ChannelingRisk, RiskEffect
from analysis.channeling.risk_factors import EVENTS_PER_TERM
from analysis.channeling.seen import NotShown, SeenCounts
from analysis.multiple import holm
from analysis.words import count, listed, method_word, more_or_less, more_or_less_span, number, p_range, sentence, span

CONSEQUENCE = (
    "Channeling acts partly as a consequence of grind: adjusting answers another question. At the same recipe, grind "
    "included, the comparison tells what goes with channeling; what a finer grind does in all holds its channeling too."
)
NOT_SETTLED = "; the interval includes {null}, so these brews do not settle the direction"
MOST_ODDS = 1000.0
SURE = 0.05


@dataclass(frozen=True, slots=True)
class AdjustedEffect:
    """What a regression of the yield says of channeled against clean: points with a 95 % interval.

    `adjusted_for` names what it holds equal, in words: "grind, dose and temperature".
    """

    estimate: float
    low: float
    high: float
    n_brews: int
    adjusted_for: str


def brew_word(method: str) -> str:
    """What people call one brew of this method.

    >>> brew_word("espresso"), brew_word("pour_over")
    ('shot', 'brew')
    """
    return "shot" if method == "espresso" else "brew"


def points_span(low: float, high: float) -> str:
    """A 95 % interval of a change in points.

    >>> points_span(-2.64, -1.21)
    '95 % interval 1.2 to 2.6 less'
    """
    return f"95 % interval {more_or_less_span(low, high, 1)}"


def count_sentences(counts: SeenCounts, rate: Rate | None, *, method: str) -> list[str]:
    """How many brews were looked at, and how many of those channeled."""
    word = brew_word(method)
    unseen = f"; {count(counts.not_looked_at, 'was', 'were')} not looked at" if counts.not_looked_at else ""
    if rate is None:
        return [f"None of the {count(counts.all, word)} of {method_word(method)} was looked at for channeling."]
    grades = f" ({counts.slight} slight, {counts.severe} severe)" if counts.slight + counts.severe else ""
    return [
        f"Of {count(counts.all, word)} of {method_word(method)}, {counts.looked_at} were looked at for channeling: "
        f"{counts.channeled} channeled{grades} and {counts.clean} ran clean{unseen}.",
        f"That is {number(rate.pct, 0)} % of those looked at (95 % interval {span(rate.low_pct, rate.high_pct, 0)} %).",
    ]


def risk_sentences(risk: ChannelingRisk) -> list[str]:
    """What the odds and the risk of channeling do with each factor, with what that rests on."""
    word = brew_word(risk.method)
    said = [
        f"Firth's logistic regression on {count(risk.n_brews, word)} of {count(risk.n_coffees, 'coffee')} looked at, "
        f"{risk.n_channeled} channeled and {risk.n_clean} clean; for these coffees.",
    ]
    if not risk.has_p_values:
        said.append(
            f"No p values: {number(risk.events_per_term, 1)} {word}s of the rarer kind stand behind each of "
            f"{count(risk.n_terms, 'term')}, and it takes {EVENTS_PER_TERM}."
        )
    beside = () if isinstance(risk.resampled, NotShown) else risk.resampled.changes
    for k, effect in enumerate(risk.effects):
        said.append(effect_sentence(effect, beside[k] if beside else None, _unit(risk)))
    said += _at_once(risk)
    if isinstance(risk.resampled, NotShown):
        said.append(risk.resampled.said)
    return [*said, *risk.notes, sentence(risk.dropped)]


def _at_once(risk: ChannelingRisk) -> list[str]:
    """Which changes stay clear once it counts that several were looked at (Holm)."""
    asked = [(effect.change, effect.p_value) for effect in risk.effects if effect.p_value is not None]
    if len(asked) < 2:
        return []
    adjusted = holm([p_value for _, p_value in asked])
    clear = [change for (change, _), p_value in zip(asked, adjusted, strict=True) if p_value < SURE]
    what = f"clear at the 5 % level: {'; '.join(clear)}" if clear else "none is clear at the 5 % level"
    return [sentence(f"each p and interval allows for one question; after allowing for {len(asked)} (Holm), {what}")]


def _unit(risk: ChannelingRisk) -> str:
    if isinstance(risk.resampled, NotShown):
        return ""
    return count(risk.resampled.n_units, risk.resampled.unit)


def effect_sentence(effect: RiskEffect, beside: ResampledChange | None, units: str) -> str:
    """One change: the odds multiplied, the risk at the mean recipe before and after, and the resampled interval."""
    p = f"; {p_range(effect.p_value)}" if effect.p_value is not None else ""
    text = (
        f"{effect.change}: the odds of channeling times {_odds(effect.odds_ratio)} (95 % interval "
        f"{_odds(effect.odds_low)} to {_odds(effect.odds_high)}{p}); at the mean recipe the risk goes from "
        f"{number(effect.risk_from_pct, 0)} to {number(effect.risk_to_pct, 0)} %, "
        f"{more_or_less(effect.points, 0, 'percentage points')} "
        f"({_points_span(effect)})"
    )
    if effect.odds_low <= 1 <= effect.odds_high:
        text += NOT_SETTLED.format(null="1, odds unchanged")
    if beside is not None:
        text += (
            f"; drawing the {units} again gives odds times {_odds(beside.odds_low)} to {_odds(beside.odds_high)}, risk "
            f"{more_or_less_span(beside.points_low, beside.points_high, 0)}"
        )
    if effect.beyond:
        text += "; these brews do not span one such step, so this reaches past what was brewed"
    return sentence(text)


def _points_span(effect: RiskEffect) -> str:
    if effect.points_low is None or effect.points_high is None:
        return "the ends of its interval were not found"
    return more_or_less_span(effect.points_low, effect.points_high, 0)


def _odds(ratio: float) -> str:
    """An odds ratio to two or three figures, capped where a number would mislead.

    >>> _odds(1.934), _odds(23.4), _odds(5e7), _odds(2e-9)
    ('1.93', '23', 'over 1,000', 'under 0.001')
    """
    if ratio > MOST_ODDS:
        return f"over {number(MOST_ODDS, 0)}"
    if ratio < 1 / MOST_ODDS:
        return f"under {1 / MOST_ODDS:g}"
    return number(ratio, 0 if ratio >= 10 else 1 if ratio >= 2 else 2 if ratio >= 0.1 else 3)


def matched_sentences(effect: MatchedEffect, *, method: str) -> list[str]:
    """What channeled brews yielded against clean ones at the same recipe, and which definition of it was used."""
    word = brew_word(method)
    text = (
        f"Channeled {word}s yielded {more_or_less(effect.difference, 1, 'points')} "
        f"({points_span(effect.low, effect.high)}) than clean ones at the same recipe, {effect.n_channeled} and "
        f"{effect.n_clean} {word}s in {count(effect.n_recipes, 'recipe')} of {count(effect.n_coffees, 'coffee')}, for "
        "these coffees"
    )
    if not effect.settled:
        text += NOT_SETTLED.format(null="zero")
    model = "a level for each recipe" + (" and each session" if effect.with_sessions else "")
    said = [
        sentence(text),
        f"Same recipe: {listed(effect.rules, last='or else')}. The model holds {model}; t with "
        f"{number(effect.df, 1)} degrees of freedom.",
    ]
    if effect.n_unmatched:
        said.append(
            f"{count(effect.n_unmatched, word)} looked at had no counterpart at the same recipe and "
            f"{'does' if effect.n_unmatched == 1 else 'do'} not count here."
        )
    return said


def compared_sentence(effect: MatchedEffect, adjusted: AdjustedEffect, *, method: str) -> str:
    """The matched difference beside the one of a model that adjusts."""
    agree = effect.low <= adjusted.estimate <= effect.high and adjusted.low <= effect.difference <= adjusted.high
    reading = (
        "the two agree: each lies inside the other's interval"
        if agree
        else "the two differ by more than their intervals allow for; the matched comparison leans on no straight "
        "lines, the model on more brews"
    )
    return (
        f"The model that adjusts for {adjusted.adjusted_for} says {more_or_less(adjusted.estimate, 1, 'points')} "
        f"({points_span(adjusted.low, adjusted.high)}; {count(adjusted.n_brews, brew_word(method))}): {reading}."
    )
