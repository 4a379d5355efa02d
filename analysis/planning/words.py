"""Plans in sentences: what they can tell, what they cannot, and what further brews would change."""

from __future__ import annotations

import math
from collections.abc import Sequence

from analysis.effects.factors import FACTORS, difference_unit
from analysis.planning.augment import Augmented, Pair
from analysis.planning.factors import PlanFactor
from analysis.planning.model import PlanModel
from analysis.planning.planned import Plan
from analysis.planning.request import DESIGN_WORDS
from analysis.planning.tells import Tell, confounded
from analysis.words import count, digits_for, listed, number
from schemas.columns import COLUMNS

MANY_IN_A_SITTING = 24
"""Common practice, no source: about what one person brews and measures in half a day."""
TOGETHER = 0.5


def setting_words(factor: PlanFactor, value: float) -> str:
    """A setting with its unit.

    >>> setting_words(PlanFactor("grind_steps_finer", -2, 2, 1), 1.0)
    '1 step finer'
    """
    if factor.name == "grind_steps_finer":
        if value == 0:
            return "the reference"
        return f"{count_of(abs(value), 'step')} {'finer' if value > 0 else 'coarser'}"
    return f"{value:g} {COLUMNS[factor.name].unit}".rstrip()


def count_of(value: float, noun: str) -> str:
    """A number of something that need not be whole: '1 step', '0.5 steps'."""
    return f"{value:g} {noun}{'' if value == 1 else 's'}"


def range_words(factor: PlanFactor) -> str:
    """From where to where a setting goes: 'grind from 2 steps coarser to 2 steps finer'."""
    return f"{factor.noun} from {setting_words(factor, factor.low)} to {setting_words(factor, factor.high)}"


def plan_sentences(plan: Plan, *, seed: int) -> tuple[str, ...]:
    """How many brews of what, in which design and order."""
    coffees = len({run.coffee_id for run in plan.runs})
    sessions = len({run.session for run in plan.runs})
    said = [
        f"{count(len(plan.runs), 'brew')} of {count(coffees, 'coffee')} in {count(sessions, 'session')}: "
        f"{DESIGN_WORDS[plan.request.design]}.",
        f"Varied: {listed([range_words(factor) for factor in plan.factors])}.",
        f"Order drawn at random within each session{' and whole plot' if plan.hard else ''}, seed {seed}.",
    ]
    most = max([run.session for run in plan.runs].count(one) for one in {run.session for run in plan.runs})
    if most > MANY_IN_A_SITTING:
        enough = math.ceil(len(plan.runs) / MANY_IN_A_SITTING)
        said.append(f"{count(most, 'brew')} in one session are many; spread them with --block session={enough}.")
    return (*said, *plan.notes)


def cannot_sentences(plan: Plan, tells: Sequence[Tell] | None, *, alone: bool = True) -> tuple[str, ...]:
    """What these brews will not be able to tell, however well they are brewed.

    Unless they stand `alone`, settings that move together in them do not count: with the brews made before they come
    apart, which `added_sentences` says.
    """
    said = list(plan.aliases)
    if tells is None:
        said.append(
            "Within coffees and sessions these brews cannot tell all of this apart. Plan more brews, fewer sessions "
            "or less to tell."
        )
    noun = {factor.name: factor.noun for factor in plan.factors}
    said += [
        f"{noun[first].capitalize()} and {noun[second]} move together in this plan (r = {r:.2f}): their effects are "
        "told apart only roughly."
        for first, second, r in (confounded(plan.model, plan.layout()) if alone else ())
    ]
    for tell in tells or ():
        if tell.rests_on < 1:
            said.append(
                f"Nothing would be left to judge {term_words(plan.model, plan.factors, tell.name)} by: brew "
                "more, or set it anew more often (--resets)."
            )
        elif tell.rests_on < 4:
            said.append(
                f"{term_words(plan.model, plan.factors, tell.name).capitalize()} would rest on "
                f"{count(int(tell.rests_on), 'degree')} of freedom, so its interval will be wide."
            )
    straight = [factor.noun for factor in plan.factors if f"{factor.name}^2" not in plan.model.names]
    if straight:
        said.append(f"Whether the line bends will not be seen for {listed(straight)}.")
    if not plan.aliases and len(plan.factors) > 1 and not any(":" in name for name in plan.model.names):
        said.append("How two settings work together is not planned for (add --cross A:B).")
    return tuple(said)


def term_words(model: PlanModel, factors: Sequence[PlanFactor], name: str) -> str:
    """A term in words: 'grind', 'the bend of grind', 'grind and dose together'."""
    term = model.terms[model.names.index(name)]
    nouns = [factors[j].noun for j in term]
    if len(term) == 1:
        return nouns[0]
    return f"the bend of {nouns[0]}" if term[0] == term[1] else f"{nouns[0]} and {nouns[1]} together"


def half_width_words(value: float) -> str:
    """An expected half width: '±0.36', 'no interval'."""
    return f"±{number(value, digits_for([value]))}" if math.isfinite(value) else "no interval"


def added_sentences(added: Augmented, response: str) -> tuple[str, ...]:
    """What the further brews would change: what comes apart, and each effect's interval before and after."""
    plan = added.plan
    said = [_apart(pair, plan.factors) for pair in added.pairs if abs(pair.before) > TOGETHER]
    before = {tell.name: tell for tell in added.before or ()}
    for factor, tell in zip(plan.factors, added.after or (), strict=False):
        said.append(_effect(factor, tell, before.get(tell.name), len(plan.runs), difference_unit(response)))
    if added.before is None:
        said.insert(0, f"The {count(added.n_brewed, 'brew')} made so far cannot tell all of this apart.")
    return tuple(said)


def _apart(pair: Pair, factors: Sequence[PlanFactor]) -> str:
    noun = {factor.name: factor.noun for factor in factors}
    return (
        f"{noun[pair.first].capitalize()} and {noun[pair.second]} moved together (r = {pair.before:.2f} within coffees "
        f"and sessions); with the new brews r = {pair.after:.2f}."
    )


def _effect(factor: PlanFactor, after: Tell, before: Tell | None, n: int, unit: str) -> str:
    """The interval of one practical step, as the effects table states it."""
    one = FACTORS[factor.name]
    share = one.step / (factor.high - factor.low)
    now = "cannot be told now"
    if before is not None:
        now = f"now {half_width_words(before.half_width * share)}"
    change = one.change_words(one.step)
    then = half_width_words(after.half_width * share)
    return f"After {count(n, 'more brew')} the 95 % interval of {change} would be about {then} {unit}, {now}."
