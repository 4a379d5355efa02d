"""The headline with each coffee, session or operator left out in turn."""

from __future__ import annotations

from dataclasses import dataclass

import polars as pl

from analysis.diagnostics.case import Case
from analysis.diagnostics.headline import Slope, Slopes, slopes_of
from analysis.diagnostics.seen import Seen
from analysis.diagnostics.slope_words import change_words, interval_words
from analysis.effects.divisions import codes_of, same_division
from analysis.effects.factors import GROUPS, difference_unit, many, plural
from analysis.effects.fit import Ints
from analysis.effects.words import decimals, signed
from analysis.findings import Finding
from analysis.words import capital, count, listed

TOPIC = "the headline with each left out"
MOST_LEVELS = 25
"""More levels than this are not left out one by one: none of so many carries the headline alone."""


@dataclass(frozen=True)
class LeftOut:
    """Findings, and a table with a row per level left out and setting.

    `table`: `what` (coffee, session, operator), `left_out`, `n_brews` that remain, `term`, `per`, `estimate`, `low`,
    `high` (null where no effect could be shown, and `refusal` says why).
    """

    seen: tuple[Seen, ...]
    table: pl.DataFrame


_SCHEMA = {
    "what": pl.String,
    "left_out": pl.String,
    "n_brews": pl.Int64,
    "term": pl.String,
    "per": pl.String,
    "estimate": pl.Float64,
    "low": pl.Float64,
    "high": pl.Float64,
    "refusal": pl.String,
}


def find_left_out(case: Case, whole: Slopes) -> LeftOut:
    """Every level of the group, then of session and operator where there are several, left out in turn."""
    if not whole.by_term:
        return LeftOut((), pl.DataFrame(schema=_SCHEMA))
    first = next(iter(whole.by_term.values()))
    seen: list[Seen] = []
    rows: list[dict[str, object]] = []
    done: list[Ints] = []
    for column in dict.fromkeys((case.request.group, "session_id", "operator")):
        values = case.brews[column]
        levels = values.drop_nulls().unique().sort().to_list()
        word = GROUPS[column]
        if len(levels) < 2:
            seen += [_only_one(case, word)] if column == case.request.group else []
            continue
        codes = codes_of(values.cast(pl.String).fill_null(""))
        if any(same_division(codes, other) for other in done):
            continue  # leaving out a session that is a coffee has been told already
        done.append(codes)
        if len(levels) > MOST_LEVELS:
            seen.append(_too_many(case, word, len(levels)))
            continue
        refits = {str(level): slopes_of(case.brews.filter(values.ne_missing(level)), case.request) for level in levels}
        seen += _told(case, first, word, refits)
        rows += [row for level, refit in refits.items() for row in _rows(word, level, refit, whole)]
    return LeftOut(tuple(seen), pl.DataFrame(rows, schema=_SCHEMA))


def _told(case: Case, whole: Slope, word: str, refits: dict[str, Slopes]) -> list[Seen]:
    """What the refits say of the headline: where it stays, and which level changes what is said."""
    there = {
        level: refit.by_term[whole.name, whole.per]
        for level, refit in refits.items()
        if (whole.name, whole.per) in refit.by_term
    }
    gone = [level for level in refits if level not in there]
    turned = [level for level, slope in there.items() if slope.estimate * whole.estimate < 0]
    lost = [level for level, slope in there.items() if whole.settled and not slope.settled and level not in turned]
    gained = [level for level, slope in there.items() if slope.settled and not whole.settled]
    ends = _ends(case, whole, word, there) if there else ""
    all_words = f"all: {interval_words(case, whole, head=False)}; {case.of}"
    if turned:
        names = listed(turned)
        said = f"Without {word} {names} {change_words(case, whole)} turns the other way: {ends} ({all_words})."
        do = f"Brew more of other {many(word)} before saying which way it goes; look at {names} by itself."
        return [Seen(Finding(TOPIC, "stands in the way", said, do), (whole.name,)), *_gone(word, gone, refits)]
    if lost or gained:
        said, do = _changed(whole, word, there, lost or gained, refits)
        return [
            Seen(Finding(TOPIC, "worth knowing", f"{capital(ends)} ({all_words}); {said}", do)),
            *_gone(word, gone, refits),
        ]
    if not there:
        return _gone(word, gone, refits)
    said = f"{ends} ({all_words})."
    return [Seen(Finding(TOPIC, "fine", capital(said), "Nothing to do.")), *_gone(word, gone, refits)]


def _changed(
    whole: Slope, word: str, there: dict[str, Slope], which: list[str], refits: dict[str, Slopes]
) -> tuple[str, str]:
    """Levels without which zero comes into the interval, or leaves it, and whether the estimate itself moved."""
    what = "includes zero" if whole.settled else "leaves zero out"
    names = listed(which)
    moved = max(abs(there[level].estimate - whole.estimate) for level in which)
    if whole.settled and moved < whole.std_error:
        brews = listed([count(refits[level].n_brews, "brew") for level in which])
        said = f"without {word} {names}, with {brews} left, the interval {what}; the estimate hardly moves."
        return said, f"Brew more, if it is to hold without {names} as well."
    said = f"without {word} {names} the interval {what}."
    return said, f"The direction hangs on {word} {names}: say so, or brew more of the others."


def _ends(case: Case, whole: Slope, word: str, there: dict[str, Slope]) -> str:
    """The sentence: between which ends the headline stays, and without which level it is at each."""
    if len(there) == 1:
        level, slope = next(iter(there.items()))
        return f"without {word} {level}, {interval_words(case, slope)}"
    low = min(there, key=lambda level: there[level].estimate)
    high = max(there, key=lambda level: there[level].estimate)
    places = decimals(whole.low, whole.high)
    unit = difference_unit(case.request.response)
    return (
        f"leaving out any one {word}, {change_words(case, whole)} stays between "
        f"{signed(there[low].estimate, places)} (without {low}) and {signed(there[high].estimate, places)} {unit} "
        f"(without {high})"
    )


def _gone(word: str, gone: list[str], refits: dict[str, Slopes]) -> list[Seen]:
    if not gone:
        return []
    why = refits[gone[0]].refusal or "its grinder is not among the others"
    said = f"Without {word} {listed(gone)} the headline could not be worked out at all: {why}"
    do = f"Brew the others so that they carry the question without {word} {gone[0]}."
    return [Seen(Finding(TOPIC, "worth knowing", said, do))]


def _only_one(case: Case, word: str) -> Seen:
    said = f"All {case.of.split(' of ')[0]} are of one {word}: what they say holds for that {word} alone."
    return Seen(Finding(TOPIC, "worth knowing", said, f"Brew a second {word} before speaking of others."))


def _too_many(case: Case, word: str, n_levels: int) -> Seen:
    said = f"{capital(plural(word, n_levels))} are too many to leave out one by one ({case.of})."
    return Seen(Finding(TOPIC, "fine", said, "Nothing to do."))


def _rows(word: str, level: str, refit: Slopes, whole: Slopes) -> list[dict[str, object]]:
    rows = []
    for key in whole.by_term:
        slope = refit.by_term.get(key)
        rows.append(
            {
                "what": word,
                "left_out": level,
                "n_brews": refit.n_brews,
                "term": key[0],
                "per": key[1],
                "estimate": slope.estimate if slope else None,
                "low": slope.low if slope else None,
                "high": slope.high if slope else None,
                "refusal": None if slope else refit.refusal or "not among the remaining grinders",
            }
        )
    return rows
