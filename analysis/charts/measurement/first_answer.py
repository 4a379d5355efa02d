"""How good are the numbers, in the sentences of the page's first screen, and what to do about them next."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from analysis.charts.measurement.method_budgets import MethodBudget, NoBudget, line_words, main_line, remedy
from analysis.charts.measurement.smallest_rows import USUAL_BREWS, MethodSmallest
from analysis.measurement.calibration_words import failure_words, span_words
from analysis.measurement.doubt import Doubt
from analysis.measurement.effort import More
from analysis.words import capital, count, listed, method_word, number, sentence

MOST_OTHERS = 3
LEAST_PCT = 0.5
"""Less than this would read 0 %."""
MORE: dict[More, str] = {
    "reading": "one more reading of each sample",
    "sample": "one more sample of each brew",
    "brew": "one more brew of each",
}


@dataclass(frozen=True, slots=True)
class MeasurementAnswer:
    """`said` answers the question, the first sentence in bold; `next_step` and its `reasons` stand in a box."""

    said: tuple[str, ...]
    next_step: str
    reasons: tuple[str, ...]
    is_blocked: bool


@dataclass(frozen=True, slots=True)
class OpenDoubt:
    """A span of doubt and how many readings, or weighed brews, lie in it."""

    doubt: Doubt
    n: int
    noun: str


def measurement_answer(
    budgets: Sequence[MethodBudget],
    without: Sequence[NoBudget],
    smallest: Sequence[MethodSmallest],
    doubts: Sequence[OpenDoubt],
    *,
    n_brews: int,
    timezone: str,
) -> MeasurementAnswer:
    """The answer for the method brewed most, the others in short, and the most urgent thing to do."""
    open_ = [one for one in doubts if one.doubt.before is None]
    urgent = [_doubt(one, timezone) for one in open_]
    if not budgets:
        step, reasons = _missing(without, n_brews)
        return MeasurementAnswer((_nothing(without, n_brews),), step, (*reasons, *urgent), is_blocked=True)
    said = [_single(budgets[0]), _others(budgets), *_differences(smallest[0]), _purchases(smallest[0])]
    if open_:
        names = listed(sorted({one.doubt.instrument_id for one in open_}))
        step = f"Set {names} right before the next brew, then log a check that passes."
        return MeasurementAnswer(tuple(filter(None, said)), step, tuple(urgent), is_blocked=True)
    step, reasons = _narrower(budgets[0])
    past = _past(doubts)
    return MeasurementAnswer(tuple(filter(None, said)), step, (*reasons, *past), is_blocked=False)


def _single(one: MethodBudget) -> str:
    main = main_line(one.lines)
    part = f"; the largest part of that is {line_words(main).lower()} ({round(100 * main.share)} %)" if main else ""
    return (
        f"A single {method_word(one.method)} yield is good to ±{number(one.half_width, 2)} points (95 % interval; the "
        f"middle of {count(one.n_brews, 'brew')}){part}."
    )


def _others(budgets: Sequence[MethodBudget]) -> str:
    rest = budgets[1:]
    if not rest:
        return ""
    parts = [
        f"{method_word(one.method)} ±{number(one.half_width, 2)} points ({count(one.n_brews, 'brew')})"
        for one in rest[:MOST_OTHERS]
    ]
    more = len(rest) - MOST_OTHERS
    tail = f"; {count(more, 'more method')} in the table" if more > 0 else ""
    return f"The others: {listed(parts)}{tail}."


def _differences(one: MethodSmallest) -> list[str]:
    """Critical and detectable difference of two brews and of two recipes, or why they cannot be said."""
    name, said = method_word(one.method), []
    if one.measured is None:
        said.append(sentence(one.no_brews))
    else:
        said.append(
            f"Two {name} yields that differ by up to {number(one.measured.critical, 2)} points may be of one and the "
            f"same coffee, by measuring alone (95 %); a true difference of {number(one.measured.detectable, 2)} points "
            "is found in 8 of 10 comparisons."
        )
    if one.usual is None:
        said.append(sentence(one.no_recipes))
    else:
        said.append(
            f"Two recipes brewed {USUAL_BREWS} times each may differ by up to {number(one.usual.critical, 2)} points "
            f"by chance, as brewing scatters too; a true difference of {number(one.usual.detectable, 2)} points is "
            f"found in 8 of 10. {one.recipe_scatter}"
        )
    return said


def _purchases(one: MethodSmallest) -> str:
    """What one more brew, sample and reading take off the uncertainty of a difference."""
    parts = []
    for about, found in (("two brews", one.measured), (f"two recipes ({USUAL_BREWS} brews each)", one.usual)):
        known = [(p.what, p.reduction_pct) for p in (found.purchases if found else ()) if p.reduction_pct is not None]
        if known:
            parts.append(f"between {about}, {_bought(sorted(known, key=lambda pair: -pair[1]))}")
    return sentence("; ".join(parts))


def _bought(known: Sequence[tuple[More, float]]) -> str:
    """What each takes off, most first; what takes off nothing is said in one."""
    some = [f"{MORE[what]} {number(percent, 0)} %" for what, percent in known if percent >= LEAST_PCT]
    none = listed([MORE[what] for what, percent in known if percent < LEAST_PCT], last="or")
    if not some:
        return f"{none} takes nothing off the uncertainty of a difference"
    return f"{_takes(some)} off the uncertainty of a difference{f', {none} nothing' if none else ''}"


def _takes(some: Sequence[str]) -> str:
    """The first with its verb: "one more brew of each takes 13 %, one more sample 2 %"."""
    name, percent = some[0].rsplit(" ", 2)[0], " ".join(some[0].rsplit(" ", 2)[1:])
    return listed([f"{name} takes {percent}", *some[1:]])


def _narrower(one: MethodBudget) -> tuple[str, tuple[str, ...]]:
    main = main_line(one.lines)
    if main is None:
        return (
            "Say what is known of the instruments: every uncertainty entered is 0.",
            ("Enter standard_uncertainty and resolution in the instruments table.",),
        )
    said = line_words(main).lower()
    return (
        f"To make a single {method_word(one.method)} yield better, begin with {said}.",
        (f"It makes {round(100 * main.share)} % of the variance; {remedy(main)}.",),
    )


def _doubt(one: OpenDoubt, timezone: str) -> str:
    held = f"{count(one.n, one.noun)} {'lies' if one.n == 1 else 'lie'} in that time and are in doubt"
    return (
        f"{failure_words(one.doubt, timezone=timezone)}; {span_words(one.doubt, timezone=timezone)}. {capital(held)}."
    )


def _past(doubts: Sequence[OpenDoubt]) -> tuple[str, ...]:
    """Readings that were taken on an instrument that was not to be relied on and has passed since."""
    return tuple(
        f"{capital(count(one.n, one.noun))} on {one.doubt.instrument_id} taken around a failed check, after "
        f"the last one that passed and before the next, stay{'s' if one.n == 1 else ''} in doubt."
        for one in doubts
        if one.doubt.before is not None and one.n
    )


def _nothing(without: Sequence[NoBudget], n_brews: int) -> str:
    if not n_brews:
        return "There are no brews yet, so there is no number to judge."
    if not without:
        return f"That cannot be said yet: none of the {count(n_brews, 'brew')} has an extraction yield."
    n = sum(one.n_yields for one in without)
    return f"That cannot be said yet: {_none_of(n)} has an uncertainty."


def _none_of(n: int) -> str:
    return "the one yield" if n == 1 else f"none of the {n:,} yields"


def _missing(without: Sequence[NoBudget], n_brews: int) -> tuple[str, tuple[str, ...]]:
    """What would let the page answer."""
    if not n_brews:
        return "Take in a log: brews with their weights, and two readings of each.", ()
    if not without:
        return "Read the strength of the brews, twice each, and name the instrument.", ()
    reasons = tuple(
        dict.fromkeys(f"{capital(method_word(one.method))}: {sentence(one.why)}" for one in without if one.why)
    )
    return (
        "Name the refractometer of each reading (instrument_id), and enter its standard_uncertainty and resolution in "
        "the instruments table.",
        reasons[:MOST_OTHERS],
    )
