"""What stands in the way of saying what to brew next: no yields, no uncertainties, one coffee, readings in doubt."""

from __future__ import annotations

import re
from collections.abc import Iterator

from analysis.charts.plain_words import plain_words
from analysis.next_brews.result import Candidate, NextRow
from analysis.next_brews.state import MethodState
from analysis.words import capital, count, method_word, number, sentence

MUCH_DOUBT = 0.1
"""Of a method's yields; under this share, brews in doubt are worth a look and stop nothing."""
ENDS_TWICE = 4
_DOUBTED = re.compile(r".*\bcounts? as (?:it stands|they stand)\b.*?(?=\.? Check (?:its|their) records|$)")


def obstacles(one: MethodState) -> Iterator[Candidate]:
    """Each obstacle of one method as something to do."""
    word = method_word(one.method)
    if one.n_yields == 0:
        yield _no_yields(one, word)
        return
    if one.effects is None and one.added is not None:
        return
    if one.effects is None:
        why = sentence(plain_words(one.refusal or "nothing could be compared"))
        row = NextRow(word, "See why", count(one.n_brews, "brew"), why, "whether any setting moved the yield")
        yield Candidate("obstacle", f"{capital(word)} cannot be compared yet. {why}", (row,))
        return
    if said := doubtful_yields(one):
        what = "Check these records, mend or void them"
        row = NextRow(word, what, "the brews named", said, "whether the effects hang on them")
        yield Candidate("obstacle", f"Check records of {word} first: {said}.", (row,))
    if one.n_in_doubt > MUCH_DOUBT * one.n_yields:
        yield _doubt(one, word)
    if one.n_sure == 0:
        yield _unsure(one, word)
    if one.n_coffees == 1:
        yield _one_coffee(one, word)


def doubtful_yields(one: MethodState) -> str:
    """The brews whose yield is hardly possible, in the words of the analysis; empty where there are none."""
    notes = one.effects.notes if one.effects else ()
    found = [hit[0] for note in notes if (hit := _DOUBTED.match(note))]
    return found[0].rstrip(".") if found else ""


def _no_yields(one: MethodState, word: str) -> Candidate:
    n = count(one.n_brews, "brew")
    row = NextRow(
        word,
        "Read the strength, and weigh dose and beverage (for full immersion the water)",
        n,
        "none has an extraction yield",
        "whether any setting moved the yield",
    )
    said = (
        f"None of the {n} of {word} has an extraction yield: read their strength, or add the weights that are missing."
    )
    return Candidate("obstacle", said, (row,))


def _doubt(one: MethodState, word: str) -> Candidate:
    share = f"{one.n_in_doubt} of {count(one.n_yields, 'yield')} ({number(100 * one.n_in_doubt / one.n_yields, 0)} %)"
    row = NextRow(
        word,
        "Zero the refractometer, read a reference, and mend or void what was read between",
        count(one.n_in_doubt, "brew"),
        f"{share} rest on readings in doubt",
        "whether these effects are the instrument's",
    )
    said = (
        f"Readings of {word} are in doubt: {share} were read between a check that failed and the next that passed. "
        "Check the instrument before brewing more."
    )
    return Candidate("obstacle", said, (row,))


def _unsure(one: MethodState, word: str) -> Candidate:
    why = one.why_unsure or "no instrument is named"
    row = NextRow(
        word,
        "Name the instruments, or declare [uncertainty] in lab.toml",
        count(one.n_yields, "yield"),
        why,
        "whether more readings or more brews would help",
    )
    said = (
        f"No yield of {word} has an uncertainty, so nobody can say how much of the scatter is measuring: name the "
        "instruments."
    )
    return Candidate("obstacle", said, (row,))


def _one_coffee(one: MethodState, word: str) -> Candidate:
    n = one.effects.n_brews if one.effects else one.n_yields
    row = NextRow(
        word,
        "A second coffee at both ends of the settings brewed, each twice",
        count(ENDS_TWICE, "brew"),
        f"{count(n, 'brew')}, all of one coffee",
        "whether another coffee answers alike",
    )
    said = (
        f"All {count(n, 'brew')} of {word} are of one coffee, so what is found speaks for that coffee alone: brew a "
        f"second one at both ends of the settings, {count(ENDS_TWICE, 'brew')} at the least."
    )
    return Candidate("obstacle", said, (row,))
