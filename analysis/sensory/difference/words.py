"""A judged difference test in sentences; never "the same" unless a similarity test was asked for and passed."""

from __future__ import annotations

import math
from collections.abc import Iterator

from analysis.sensory.difference.binomial import ShareInterval
from analysis.sensory.difference.judge import Judged
from analysis.sensory.difference.palates import FEWEST
from analysis.sensory.difference.places import Places
from analysis.words import count, digits_for, listed, number

RARE = 0.05


def sentences(judged: Judged) -> tuple[str, ...]:
    """The outcome, what it says of palates, then whatever may stand in the way."""
    told = _who_tells if judged.aim == "right" else _who_picks
    return (
        _outcome(judged),
        *_below(judged),
        *told(judged),
        *_similar(judged),
        *judged.notes,
        *_alike(judged),
        *_place_words(judged),
        _about(judged),
        *_left_out(judged),
    )


def p_words(p: float) -> str:
    """An exact p as it is said.

    >>> p_words(0.0436), p_words(0.00002), p_words(0.31)
    ('p 0.044', 'p under 0.001', 'p 0.31')
    """
    if p > 0.99:
        return "p over 0.99"
    return "p under 0.001" if p < 0.001 else f"p {number(p, digits_for([p], most=3))}"


def percent(share: float) -> str:
    """A share in whole percent.

    >>> percent(0.4849)
    '48'
    """
    return number(100 * share, 0)


def percent_span(interval: ShareInterval) -> str:
    """Both ends of an interval of shares, in percent.

    >>> percent_span(ShareInterval(0.3, 0.0, 0.4849))
    '0 to 48 %'
    """
    return f"{percent(interval.low)} to {percent(interval.high)} %"


def distance_words(interval: ShareInterval) -> str:
    """A d-prime with its interval; an end that nothing bounds is said so.

    >>> distance_words(ShareInterval(2.0, 1.0, math.inf)), distance_words(ShareInterval(math.inf, 3.0, math.inf))
    ('2.0 (95 % interval 1.0 upwards)', 'over 3.0')
    """
    low, high = number(interval.low, 1), number(interval.high, 1)
    if not math.isfinite(interval.share):
        return f"over {low}" if interval.low > 0 else "of any size"
    ends = f"{low} to {high}" if math.isfinite(interval.high) else f"{low} upwards"
    return f"{number(interval.share, 1)} (95 % interval {ends})"


def _who(judged: Judged) -> str:
    if not judged.repeated:
        return f"{judged.hits} of {count(judged.n, 'palate')}"
    by = "one palate" if judged.palates == 1 else f"{judged.palates} palates"
    return f"{judged.hits} of {judged.n} answers by {by}"


def _outcome(judged: Judged) -> str:
    expected = number(judged.n * judged.chance, 0 if (judged.n * judged.chance) % 1 < 1e-9 else 1)
    by = "expected by guessing" if judged.aim == "right" else "if split evenly"
    asked = f', asked "{judged.question}"' if judged.aim == "pick" and judged.question else ""
    sides = "" if judged.aim == "right" else ", two-sided"
    return f"{_who(judged)} {judged.task}{asked} ({expected} {by}): {p_words(judged.p)}{sides}{_verdict(judged)}"


def _verdict(judged: Judged) -> str:
    what = "a difference" if judged.aim == "right" else "a lean to one cup"
    level = f"at the level {judged.level:g}"
    if judged.shown:
        return f", so {what} is shown {level}."
    if judged.place_in_doubt and judged.p <= judged.level:
        return ", but the order of serving may have done it."
    if not judged.reachable:
        return f". So few answers could not show {what} {level}, whatever they were."
    would = f" ({judged.needed} would show it)" if judged.needed is not None else ""
    return f", so {what} is not shown {level}{would}."


def _below(judged: Judged) -> Iterator[str]:
    if judged.p_below is None or judged.hits >= judged.n * judged.chance:
        return
    if judged.p_below <= RARE or judged.hits == 0:
        yield f"That is fewer than guessing gives, and so few are rare ({p_words(judged.p_below)}): check the key."
        if judged.key_in_doubt:
            yield "Until then nothing is said of how many can tell."
    else:
        yield "That is fewer than guessing gives on average."


def _who_tells(judged: Judged) -> Iterator[str]:
    able, distance = judged.able, judged.d_prime
    if able is None or distance is None:
        return
    d_prime = f"d-prime {distance_words(distance)}"
    if not judged.repeated:
        yield (
            f"Between {percent(able.low)} and {percent(able.high)} % of such palates tell them apart (95 % interval), "
            f"the others guess; {d_prime}."
        )
    elif judged.in_general is None:
        yield f"{_these(judged)} told them apart in {percent_span(able)} of tastings (95 % interval); {d_prime}."
        yield _too_few(judged)
    else:
        yield (
            f"Palates like these tell them apart in {percent_span(able)} of tastings (95 % interval, beta-binomial: "
            f"one palate's answers may be alike); {d_prime} for a palate of average share."
        )
    if not judged.shown and judged.similarity is None:
        yield "Not shown is not alike: for that, ask for similarity with a margin."
    if judged.shown and judged.repeated and able.low == 0:
        yield "So some palate can tell; how often palates in general can is open."


def _who_picks(judged: Judged) -> Iterator[str]:
    share = f"{percent(judged.hits / judged.n)} %"
    if not judged.repeated:
        yield f"The share is {share} of palates (95 % interval {percent_span(judged.own)}); no answer is right here."
    elif judged.in_general is None:
        yield f"The share is {share}; {_these(judged).lower()} on average {percent_span(judged.own)} (95 % interval)."
        yield _too_few(judged)
    else:
        yield (
            f"The share is {share} (95 % interval for palates like these {percent_span(judged.in_general)}, "
            "beta-binomial); no answer is right here."
        )
    if judged.repeated and judged.palates > 1:
        yield (
            "The p value turns each palate's answers round together, since palates keep to what they like; of these "
            f"very palates alone: {p_words(judged.p_own)}."
        )


def _these(judged: Judged) -> str:
    return "This palate" if judged.palates == 1 else f"These {judged.palates} palates"


def _too_few(judged: Judged) -> str:
    return (
        f"What palates in general do is not said with {count(judged.palates, 'palate')} answering several times each: "
        f"it takes {FEWEST} or more."
    )


def _similar(judged: Judged) -> Iterator[str]:
    similar = judged.similarity
    if similar is None:
        return
    if judged.key_in_doubt:
        yield "Similarity is not judged while the key is in doubt."
        return
    tells = "of such palates tell them apart"
    if judged.repeated:
        tells = "of tastings tell them apart"
    whom = "" if similar.in_general else f", for {_these(judged).lower()} alone"
    margin, upper = f"{100 * similar.margin:g} %", f"{percent(similar.upper)} %"
    limit = f"one-sided limit {upper}, level {judged.level:g}"
    if similar.passed:
        yield f"Similar within the margin asked for: fewer than {margin} {tells} ({limit}){whom}."
    else:
        yield f"Not shown to be similar: up to {upper} {tells} ({limit}), the margin is {margin}{whom}."


def _alike(judged: Judged) -> Iterator[str]:
    if judged.alike is not None and judged.alike.p <= RARE:
        tell = "some tell them apart far more often than others" if judged.aim == "right" else "they pick unlike cups"
        yield (
            f"Palates differ: {tell} (likeness of one palate's answers {number(judged.alike.value, 2)} of 1, "
            f"{p_words(judged.alike.p)})."
        )


def _place_words(judged: Judged) -> Iterator[str]:
    places = judged.places
    if places is None:
        if judged.kind == "paired":
            yield "Whether the first cup was favoured cannot be seen: no serving order is on record beside the choice."
        return
    if places.unread:
        example = "AB" if judged.kind == "paired" else "AAB"
        yield f"{count(places.unread, 'answer')} without a serving order that can be read, such as {example}."
    if places.served and judged.kind == "paired":
        yield from _paired_places(judged, places)
    elif places.served:
        where = listed([f"{one.place} {count(one.n, 'time')} ({one.hits} found)" for one in places.served])
        yield f"The odd cup stood {where}{'' if places.balanced else '; not balanced'}."


def _paired_places(judged: Judged, places: Places) -> Iterator[str]:
    liked = places.first_p is not None and places.first_p <= RARE
    first = f"{places.first} of {places.first_n} times ({p_words(places.first_p or 0.0)})"
    yield f"The cup served first was picked {first}{'; the place was picked, not only the cup' if liked else ''}."
    if places.balanced:
        return
    cup = judged.task.removeprefix("picked ")
    stood = listed([f"{one.place} {count(one.n, 'time')}" for one in places.served])
    even = places.even_share
    weighed = f"; with both places weighing the same the share is {percent(even)} %" if even is not None else ""
    free = f", {p_words(places.free_p)} (Fisher's exact test)" if places.free_p is not None else ""
    yield f"Orders were not balanced: {cup} stood {stood}{weighed}{free}."
    if judged.place_in_doubt:
        yield "A liking for a place and uneven orders can look like a difference, so none is called shown here."


def _about(judged: Judged) -> str:
    if len(judged.pairs) == 1:
        return f"This speaks of the brews {listed(judged.pairs[0])} only: brews of one recipe may differ too."
    return f"Pooled over {len(judged.pairs)} pairs of brews: some pairs may lie farther apart than others."


def _left_out(judged: Judged) -> Iterator[str]:
    if judged.left_out:
        why = listed([f"{count(n, 'row')} ({reason})" for reason, n in judged.left_out.items()])
        yield f"Left out: {why}."
