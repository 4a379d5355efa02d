"""When a study was declared, as sentences."""

from __future__ import annotations

from collections.abc import Iterator

from analysis.words import count
from pipeline.study.declared import Declaration

LIMIT = "This is the order in which things came into the project folder; what was seen before that, no file can tell."


def declaration_words(declaration: Declaration) -> tuple[str, ...]:
    """Whether the study was declared before its data, with counts, and what was changed since."""
    return (*_state(declaration), *_changes(declaration))


def _state(one: Declaration) -> Iterator[str]:
    n = one.n_brews_before + one.n_brews_after
    if one.first_seen_manifest is None:
        there = (
            f"{count(n, 'brew')} of it {'is' if n == 1 else 'are'} in the log already"
            if n
            else "No brew of it is in the log"
        )
        yield f"Not recorded yet: the next ingest does it, or `brewtrials study --record` now. {there}."
        return
    since = f"recorded at ingest {one.first_seen_manifest}"
    if one.state == "no data yet":
        yield f"Declared before its data: {since}, and no brew of it is in the log yet."
    elif one.state == "before the data":
        yield f"{_before(one, n, since)} {LIMIT}"
    else:
        whole = "after its data" if one.state == "after the data" else "when part of its data was there"
        yield (
            f"Declared {whole}: {since}, when {one.n_brews_before} of {count(n, 'brew')} {'was' if n == 1 else 'were'} "
            "in the log. Its questions count as asked afterwards: exploratory."
        )


def _before(one: Declaration, n: int, since: str) -> str:
    brews = f"its {count(n, 'brew')}"
    if one.n_brews_with == n:
        return f"Counts as declared before its data: {since}, the one that brought {brews}."
    some = f"; {one.n_brews_with} of them in that same one" if one.n_brews_with else ""
    return f"Declared before its data: {since}, and {brews} came in then or later{some}."


def _changes(one: Declaration) -> Iterator[str]:
    if one.first_seen_manifest is not None and one.current_seen is None:
        yield "The file as it stands is not recorded yet: the next ingest does it, or `brewtrials study --record` now."
    if one.changed_since:
        against = "what was planned before the data" if one.planned else "what was recorded first"
        yield f"Changed since, against {against}: {'; '.join(one.changed_since)}."
