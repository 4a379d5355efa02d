"""What to brew next and why, over all methods: one paragraph, at most five rows."""

from __future__ import annotations

from collections.abc import Sequence

from analysis.next_brews.brews import worth_brewing
from analysis.next_brews.obstacles import obstacles
from analysis.next_brews.result import KINDS, MOST_ROWS, Candidate, NextBrews, NextRow
from analysis.next_brews.state import MethodState
from analysis.words import capital, count, method_word, number

MAIN_SHARE = 0.25
"""A method is asked if it has this share of the brews of the most brewed one."""
LITTLE, MOST = 0.1, 0.5


def next_brews(states: Sequence[MethodState]) -> NextBrews:
    """The most worthwhile first: what stands in the way, then brews in the order of `KINDS`, big methods first."""
    main = _main(states)
    if not main:
        row = NextRow("any", "Log the first brews and take them in", "", "there are no brews yet", "everything else")
        return NextBrews("There are no brews yet: log the first ones and take them in.", (row,), is_blocked=True)
    found = [(one, candidate) for one in main for candidate in (*obstacles(one), *worth_brewing(one))]
    # Obstacles of a lesser method do not stand before what the most brewed one could do.
    ranked = sorted(found, key=lambda pair: (KINDS.index(pair[1].kind), -pair[0].n_brews))
    first, lead = ranked[0]
    rows = _rows([candidate for _, candidate in ranked])
    is_blocked = lead.kind == "obstacle"
    also = _also(ranked) if is_blocked else ""
    return NextBrews(" ".join(filter(None, (capital(lead.said), also, _measuring(first)))), rows, is_blocked)


def _main(states: Sequence[MethodState]) -> list[MethodState]:
    ordered = sorted((one for one in states if one.n_brews), key=lambda one: -one.n_brews)
    return [one for one in ordered if one.n_brews >= MAIN_SHARE * ordered[0].n_brews]


def _rows(ranked: Sequence[Candidate]) -> tuple[NextRow, ...]:
    """Rows of the best candidates; the recipe to confirm only where a method offers nothing else."""
    rows: list[NextRow] = []
    spoken: set[str] = set()
    for candidate in ranked:
        methods = {row.method for row in candidate.rows}
        if candidate.kind == "confirm" and methods & spoken:
            continue
        spoken |= methods
        rows += candidate.rows
    return tuple(dict.fromkeys(rows))[:MOST_ROWS]


def _also(ranked: Sequence[tuple[MethodState, Candidate]]) -> str:
    """What could be brewed meanwhile, in another method that nothing stands in the way of."""
    stopped = {one.method for one, candidate in ranked if candidate.kind == "obstacle"}
    free = [candidate for one, candidate in ranked if one.method not in stopped]
    return f"Meanwhile: {free[0].said[:1].lower()}{free[0].said[1:]}" if free else ""


def _measuring(one: MethodState) -> str:
    """Whether more brews or more readings would help in the method that is spoken of."""
    if one.measuring is None:
        return ""
    share = (
        f"Measuring makes {number(100 * one.measuring, 0)} % of what like brews of {method_word(one.method)} differ by "
        f"({count(one.n_sure, 'brew')})"
    )
    if one.measuring <= LITTLE:
        return f"{share}: more brews will help, more readings will not."
    if one.measuring >= MOST:
        return f"{share}: more readings of each brew will help as much as more brews."
    return f"{share}: more brews will help most, more readings a little."
