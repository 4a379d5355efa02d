"""Folded away at the end of a method's block: every value, the model, and what to know about it."""

from __future__ import annotations

from analysis import words
from analysis.charts.effect_words import change_in_words
from analysis.charts.plain_words import degrees, plain_words
from analysis.diagnostics.report import Diagnosis
from analysis.effects.words import decimals
from pipeline.publish.effects.content import EffectsPage
from pipeline.publish.effects.moves import MethodMoves
from pipeline.publish.markup import Head, bullets, folded, table
from pipeline.publish.sections.effects_table import effects_table

SLOPE_HEADS = (
    Head("Coffee"),
    Head("Change"),
    Head("Estimate, points", True),
    Head("95 % interval", True),
    Head("Brews", True),
)
CHECK_HEADS = (
    Head("Change"),
    Head("Estimate, points", True),
    Head("95 % interval", True),
    Head("Degrees of freedom", True),
    Head("Refused because"),
)
SPREAD_HEADS = (Head("Part of the model"), Head("Standard deviation, points", True))
INFLUENCE_HEADS = (
    Head("Brew"),
    Head("Leverage", True),
    Head("Cook's distance", True),
    Head("Moves the headline by, standard errors", True),
)
MOST_INFLUENTIAL = 10


def tables(page: EffectsPage, one: MethodMoves) -> str:
    """All of it, each in its own fold."""
    result = one.result
    if result is None:
        return ""
    folds = [
        folded("Table: effects", effects_table([(one.method, result)])),
        folded("Table: each coffee's own slope", _slopes(page, one)),
        folded("Table: the same with errors that only ask for independent coffees", _check(one)),
        folded("Table: brews that weigh most", _influence(one)),
        folded("Method note: model, what was left out, what to know", _notes(one)),
    ]
    return "".join(folds)


def _slopes(page: EffectsPage, one: MethodMoves) -> str:
    rows = []
    for row in one.result.slopes_by_coffee.iter_rows(named=True) if one.result else ():
        places = decimals(row["low"], row["high"])
        key = page.coffees.get(row["coffee_id"])
        name = key.label if key else row["coffee_id"]
        change = words.capital(degrees(change_in_words(row)))
        interval = words.span(row["low"], row["high"], places)
        rows.append((name, change, words.signed(row["estimate"], places), interval, row["n_brews"]))
    return table(SLOPE_HEADS, rows, caption="Each coffee alone, other settings held") if rows else ""


def _check(one: MethodMoves) -> str:
    rows = []
    for row in one.result.cluster_check.iter_rows(named=True) if one.result else ():
        known = row["low"] is not None and row["high"] is not None
        places = decimals(row["low"], row["high"]) if known else 2
        change = words.capital(degrees(change_in_words(row | {"step": _step(one, row["term"])})))
        interval = words.span(row["low"], row["high"], places) if known else words.NO_VALUE
        estimate = words.signed(row["estimate"], places)
        rows.append((change, estimate, interval, words.number(row["df"], 1), row["refused"] or ""))
    return table(CHECK_HEADS, rows, caption="Cluster-robust (CR2), coffees as clusters") if rows else ""


def _step(one: MethodMoves, term: str) -> float:
    return one.result.request.step(term) if one.result and term in one.result.request.factors else 1.0


def _influence(one: MethodMoves) -> str:
    if not isinstance(one.diagnosis, Diagnosis):
        return ""
    rows = [
        (
            row["brew_id"],
            words.number(row["leverage"], 2),
            words.number(row["cook"], 3),
            words.number(row["moves"], 2) if row["moves"] is not None else "not fitted without it",
        )
        for row in one.diagnosis.tables["influence"].head(MOST_INFLUENTIAL).iter_rows(named=True)
    ]
    return table(INFLUENCE_HEADS, rows, caption="Brews by their influence on the headline") if rows else ""


def _notes(one: MethodMoves) -> str:
    result = one.result
    if result is None:
        return ""
    notes = [result.model, result.dropped, f"The intervals speak {result.scope}", *result.notes]
    parts = [(name, words.number(sd, 2)) for name, sd in result.components.items() if " by " not in name]
    return bullets(words.sentence(plain_words(note)) for note in notes if note) + table(
        SPREAD_HEADS,
        [(words.capital(plain_words(name)), sd) for name, sd in parts],
        caption="Spread by part of the model",
    )
