"""Rows of an effects table in words."""

from __future__ import annotations

from typing import Any

import polars as pl

from analysis import words
from analysis.effects.factors import FACTORS

Row = dict[str, Any]


def factor_of(term: str) -> str:
    """The factor behind a linear term, also where there is one term per grinder; empty for other terms.

    >>> factor_of("water_temp_c"), factor_of("intercept"), factor_of("water_temp_c^2")
    ('water_temp_c', '', '')
    """
    if "^" in term or ":" in term:
        return ""
    return next((name for name in FACTORS if term == name or term.startswith((f"{name}[", f"{name} "))), "")


def change_in_words(term: str, step: float, per: str) -> str:
    """The change that an estimate is stated for.

    >>> change_in_words("water_temp_c", 1.0, "1 C"), change_in_words("channeled", 1.0, "yes against no")
    ('1 C hotter', 'channeled against clean')
    """
    name = factor_of(term)
    if not name:
        return f"{term.replace('_', ' ')}, {per}"
    factor = FACTORS[name]
    change = factor.change_words(step)
    return change if per == factor.per(step) else f"{change} ({per})"


def effect_sentence(row: Row) -> str:
    """One row of the effects table as a sentence without its full stop."""
    interval = words.span(row["low"], row["high"], 2)
    rests_on = f"{words.count(row['n_brews'], 'brew')} of {words.count(row['n_coffees'], 'coffee')}"
    change = change_in_words(row["term"], row["step"], row["per"])
    return f"{change}: {words.signed(row['estimate'], 2)} points of yield, 95 % interval {interval} ({rests_on})"


def linear_rows(table: pl.DataFrame) -> list[Row]:
    """Rows that state the effect of one factor and have an interval."""
    rows = table.filter(pl.col("low").is_not_null(), pl.col("high").is_not_null()).iter_rows(named=True)
    return [row for row in rows if factor_of(row["term"])]


def is_settled(row: Row) -> bool:
    """Whether the 95 % interval lies on one side of zero."""
    return bool(row["low"] > 0 or row["high"] < 0)
