"""What is worth brewing in one method: runs that part settings, a trial, repeats, a recipe to confirm."""

from __future__ import annotations

from collections.abc import Iterator

from analysis.charts.plain_words import degrees, plain_words
from analysis.effects.factors import FACTORS
from analysis.next_brews.choose import moved_together, unrepeated
from analysis.next_brews.result import Candidate, NextRow
from analysis.next_brews.state import MethodState, Trial
from analysis.planning.augment import Augmented
from analysis.prediction.result import Prediction
from analysis.words import capital, count, listed, method_word, number, sentence, signed, span
from schemas.columns import COLUMNS

MOST_RUN_ROWS = 3
REPEATS = 3
MOST_BREWS = 120
"""A trial that takes more is not offered: what scatters is worth finding first."""


def worth_brewing(one: MethodState) -> Iterator[Candidate]:
    """Everything this method offers, in no order; nothing where no effect was worked out."""
    if one.added is not None:
        yield _apart(one, one.added)
    if one.effects is None:
        return
    if one.trial is not None:
        yield _more(one, one.trial)
    if unrepeated(one.diagnosis) is not None:
        yield _repeat(one)
    yield _confirm(one)


def _apart(one: MethodState, added: Augmented) -> Candidate:
    word, found = method_word(one.method), moved_together(one.diagnosis)
    why = sentence(plain_words(found.said)) if found else ""
    runs: dict[tuple[str, tuple[float, ...]], int] = {}
    for run in added.plan.runs:
        key = (run.coffee_id, run.settings)
        runs[key] = runs.get(key, 0) + 1
    pair = max(added.pairs, key=lambda each: abs(each.before) - abs(each.after))
    first, second = plain_words(pair.first), plain_words(pair.second)
    settles = f"{first} apart from {second}: r from {signed(pair.before, 2)} to {signed(pair.after, 2)}"
    rows = [
        NextRow(
            word, capital(f"{_settings(added, run)}, {coffee}"), count(n, "brew"), "part what moved together", settles
        )
        for (coffee, run), n in list(runs.items())[:MOST_RUN_ROWS]
    ]
    n, more = len(added.plan.runs), max(0, len(runs) - MOST_RUN_ROWS)
    rest = f" ({more} further settings: `brewtrials plan --add-to-brewed`)" if more else ""
    said = (
        f"Brew {word} next: {count(n, 'brew')} chosen so that {first} and {second} come apart{rest}. Why: "
        f"{why} With them the two would go together by r {signed(pair.after, 2)} instead of {signed(pair.before, 2)} "
        f"({added.n_brewed} brews so far)."
    )
    return Candidate("apart", said, tuple(rows))


def _settings(added: Augmented, settings: tuple[float, ...]) -> str:
    pairs = zip(added.plan.factors, settings, strict=True)
    return listed([setting_words(factor.name, value) for factor, value in pairs])


def setting_words(name: str, value: float) -> str:
    """One setting with its unit.

    >>> setting_words("water_temp_c", 94.0), setting_words("grind_steps_finer", -1.5)
    ('water temperature 94 °C', 'grind -1.5 steps')
    """
    return f"{FACTORS[name].noun} {_amount(name, value)}"


def _amount(name: str, value: float) -> str:
    """The value with its unit; dial steps finer than the reference carry their sign."""
    factor, unit = FACTORS[name], COLUMNS[name].unit
    if factor.counted:
        return f"{value:+.4g} {factor.counted}s" if value else f"0 {factor.counted}s"
    return degrees(f"{value:.4g} {unit}".strip())


def _more(one: MethodState, trial: Trial) -> Candidate:
    word = method_word(one.method)
    needed, *ends = (None if n is None else 2 * n for n in _needed(trial))
    noun = trial.factor.noun + (f" on {trial.grinder}" if trial.grinder else "")
    low, high = (_amount(trial.factor.name, end) for end in (trial.factor.low, trial.factor.high))
    what = f"{capital(noun)}: {low} against {high}, one coffee, mixed order"
    why, scatter = _open_words(trial), _scatter(trial)
    matters = f"{number(one.difference, 1)} points"
    basis = "as the study declares" if one.is_declared else "taken as what matters, since no study declares it"
    if needed is None or needed > MOST_BREWS:
        row = NextRow(
            word, "Find what scatters: repeat one recipe", count(REPEATS, "brew"), scatter, "how to lessen it"
        )
        said = (
            f"Before more {word} is brewed, find what scatters: {scatter}, so that even {MOST_BREWS} brews of one "
            f"coffee would often miss {matters} ({basis}) between the ends of {trial.factor.noun}."
        )
        return Candidate("more", said, (row,))
    known = None not in ends and ends[0] != ends[1]
    span_of = f" ({ends[0]} to {ends[1]} as the scatter is known)" if known else ""
    row = NextRow(word, what, f"{count(needed, 'brew')}, half at each", why, f"{matters} between the two ends")
    said = (
        f"Brew {word} next: {count(needed, 'brew')}{span_of}, half at {low} and half at {high} of {noun}, one coffee "
        f"in mixed order, all else the same. Why: {why}. So many show a difference "
        f"of {matters} ({basis}) in four trials of five; {scatter}."
    )
    return Candidate("more", said, (row,))


def _needed(trial: Trial) -> tuple[int | None, int | None, int | None]:
    """Brews of each of the two settings, and both ends as the scatter is known."""
    return trial.answer.needed, trial.answer.needed_low, trial.answer.needed_high


def _open_words(trial: Trial) -> str:
    low, high = float(str(trial.row["low"])), float(str(trial.row["high"]))
    step = float(str(trial.row["step"]))
    change = degrees(FACTORS[trial.factor.name].change_words(step)) + (f" on {trial.grinder}" if trial.grinder else "")
    brews = count(int(str(trial.row["n_brews"])), "brew")
    coffees = count(int(str(trial.row["n_coffees"])), "coffee")
    what = "could mean anything from" if low <= 0 <= high else "is known only to lie between"
    joint = "to" if low <= 0 <= high else "and"
    return f"{change} {what} {signed(low, 2)} {joint} {signed(high, 2)} points (95 % interval, {brews} of {coffees})"


def _scatter(trial: Trial) -> str:
    ends = trial.brew_sd_interval
    interval = f", 95 % interval {span(ends[0], ends[1], 2)}" if ends else ""
    return f"like brews scatter by {number(trial.brew_sd, 2)} points (standard deviation{interval})"


def _repeat(one: MethodState) -> Candidate:
    word, found = method_word(one.method), unrepeated(one.diagnosis)
    what = "one recipe of one coffee, nothing changed"
    if one.diagnosis and one.diagnosis.tables["repeats"].height:
        row = one.diagnosis.tables["repeats"].row(0, named=True)
        what = degrees(f"{row['settings'].removeprefix('brew ')} again, {row['group']}")
    why = plain_words(found.said).partition(":")[0] if found else ""
    settles = "how far like brews scatter, and whether straight lines miss a shape"
    row_of = NextRow(word, capital(what), f"{REPEATS} more brews", why, settles)
    said = f"Brew {word} next: {what}, {REPEATS} more times. Why: {sentence(why)}"
    return Candidate("repeat", said, (row_of,))


def _confirm(one: MethodState) -> Candidate:
    word, n = method_word(one.method), one.effects.n_brews if one.effects else 0
    if one.best is None or one.best.landing is None:
        row = NextRow(
            word,
            "The recipe you would choose",
            f"{REPEATS} brews",
            f"every setting tried is told to under {number(one.difference, 1)} points ({count(n, 'brew')})",
            "whether it holds",
        )
        said = (
            f"Brew {word} next: {REPEATS} repeats of the recipe you would choose, to see whether it holds. Why: "
            f"nothing that was tried is left open ({count(n, 'brew')})."
        )
        return Candidate("confirm", said, (row,))
    return _confirm_best(one.best, word)


def _rests_on(best: Prediction) -> str:
    return f"{count(best.n_brews, 'brew')} of {count(best.n_coffees, 'coffee')}"


def _confirm_best(best: Prediction, word: str) -> Candidate:
    recipe = listed([setting_words(name, value) for name, value in best.settings.items()])
    landing, expected = best.landing, best.expected[0]
    chance = number(100 * landing.chance, 0) if landing else ""
    ends = f" (95 % interval {span(100 * landing.low, 100 * landing.high, 0)} %)" if landing else ""
    of = f", {best.coffee}" if best.coffee else ""
    row = NextRow(
        word,
        f"{recipe}{of}",
        f"{REPEATS} brews",
        f"lands in the target in {chance} % of brews{ends}",
        f"whether it yields {number(expected.value, 1)} %",
    )
    said = (
        f"Brew {word} next: {recipe}{of}, {REPEATS} times, to confirm it. Why: of what was brewed it lands in the "
        f"target most surely, {chance} % of brews{ends}, with a yield of {number(expected.value, 1)} % expected (95 % "
        f"interval {span(expected.low, expected.high, 1)} %; {_rests_on(best)})."
    )
    return Candidate("confirm", said, (row,))
