"""The table of effects: every term with its interval, and what it rests on."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from analysis import words
from analysis.charts.effect_words import change_in_words, has_interval
from analysis.charts.effects_input import EffectsLike
from analysis.charts.plain_words import degrees
from analysis.effects.words import decimals
from pipeline.publish.markup import Head, table

HEADS = (
    Head("Method"),
    Head("Change"),
    Head("Estimate, points", True),
    Head("95 % interval", True),
    Head("Standard error", True),
    Head("Degrees of freedom", True),
    Head("p", True),
    Head("Brews", True),
    Head("Coffees", True),
)


def is_level(term: str) -> bool:
    """Whether a row states the yield at average settings instead of a change."""
    return term.startswith("intercept")


def effects_table(fitted: Sequence[tuple[str, EffectsLike]]) -> str:
    """The effects of some methods, a row per term."""
    rows = [_row(method, row) for method, result in fitted for row in result.table.iter_rows(named=True)]
    caption = (
        "Effects on extraction yield, in points per change; an error common to all readings is not in these intervals"
    )
    return table(HEADS, rows, caption=caption)


def _change(row: dict[str, Any]) -> str:
    if not is_level(row["term"]):
        return words.capital(degrees(change_in_words(row)))
    grinder = row["per"].partition(", on ")[2]
    return f"None: yield at average settings{f' on {grinder}' if grinder else ''}, %"


def _row(method: str, row: dict[str, Any]) -> tuple[object, ...]:
    """Cells of one effect; a level has no p, which would ask whether the yield is zero."""
    known = has_interval(row)
    places = decimals(row["low"], row["high"]) if known else 2
    return (
        words.method_word(method),
        _change(row),
        words.number(row["estimate"], places),
        words.span(row["low"], row["high"], places) if known else words.NO_VALUE,
        words.number(row["std_error"], places + 1),
        words.number(row["df"], 1),
        "" if is_level(row["term"]) else words.p_range(row["p_value"]).removeprefix("p "),
        row["n_brews"],
        row["n_coffees"],
    )
