"""The brews as the page's script gets them: what charts draw, what filters ask, what the card says."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import polars as pl

from analysis import words
from analysis.charts.brewing_days import day_of_brew
from analysis.charts.brews import BrewMarks

DRAWN = ("i", "panel", "c", "coffee", "y", "y_low", "y_high", "s", "s_low", "s_high", "state", "w", "j", "at", "at_end")
NO_OPERATOR = "no name given"
MOST_CHARACTERS = 200
CARD = (
    ("when", "Brewed"),
    ("coffee", "Coffee"),
    ("method", "Method"),
    ("operator", "By"),
    ("recipe", "Recipe"),
    ("masses", "Weights"),
    ("settings", "Settings"),
    ("grind", "Grind"),
    ("strength", "Strength"),
    ("yield", "Yield"),
    ("channeling", "Channeling"),
    ("changed", "Changed before"),
    ("flags", "Flags"),
    ("notes", "Notes"),
)
"""Lines of a brew's card: field and label."""


@dataclass(frozen=True)
class Choices:
    """What the filter offers, in order; a record holds the place in these lists."""

    coffees: tuple[str, ...]
    methods: tuple[str, ...]
    operators: tuple[str, ...]
    states: tuple[str, ...]


def choices(marks: BrewMarks) -> Choices:
    """Coffee ids by number of brews, methods in the order of their panels, operators by name, channeling states."""
    operators = marks.all["operator"].fill_null(NO_OPERATOR).unique().sort().to_list()
    present = set(marks.all["state"])
    return Choices(
        coffees=tuple(coffee.coffee_id for coffee in marks.coffees),
        methods=tuple(dict.fromkeys(panel.method for panel in marks.panels)),
        operators=tuple(operators),
        states=tuple(state for state in ("clean", "channeled", "not looked at") if state in present),
    )


def brew_records(marks: BrewMarks, offered: Choices, flags: pl.DataFrame) -> pl.DataFrame:
    """One row per drawn brew: DRAWN, `id`, `day`, places in the filter (`k`, `m`, `o`, `t`), card lines."""
    brews = marks.drawn
    places = {"k": ("coffee_id", offered.coffees), "m": ("method", offered.methods), "t": ("state", offered.states)}
    flagged = flags_by_brew(flags)
    cards = pl.DataFrame(
        [_card(row, flagged) for row in brews.iter_rows(named=True)],
        schema={name: pl.String for name, _ in CARD if name != "coffee"},
        orient="row",
    )
    columns = brews.select(
        *DRAWN,
        pl.col("brew_id").alias("id"),
        day_of_brew().cast(pl.String),
        *(_place(pl.col(column), options).alias(name) for name, (column, options) in places.items()),
        _place(pl.col("operator").fill_null(NO_OPERATOR), offered.operators).alias("o"),
    )
    return columns.with_columns(pl.col("w").round(2)).hstack(cards)


def _place(column: pl.Expr, options: tuple[str, ...]) -> pl.Expr:
    return column.replace_strict({option: k for k, option in enumerate(options)}, return_dtype=pl.Int64)


def flags_by_brew(flags: pl.DataFrame) -> dict[str, str]:
    """The messages of each flagged brew, joined."""
    named = flags.filter(pl.col("brew_id").is_not_null())
    grouped = named.group_by("brew_id").agg(pl.col("message").unique(maintain_order=True).str.join(" "))
    return dict(grouped.iter_rows())


def _card(row: Mapping[str, Any], flagged: Mapping[str, str]) -> tuple[str, ...]:
    when = row["brewed_at"]
    day = row["brewed_on"] or (when and when.date())
    lines = {
        "when": words.day(day) if day else "",
        "method": words.method_word(row["method"]),
        "operator": row["operator"] or "",
        "recipe": row["recipe_id"] or "",
        "masses": _parts(
            (row["dose_g"], 1, "g dose"), (row["water_g"], 1, "g water"), (row["beverage_g"], 1, "g in cup")
        ),
        "settings": _parts(
            (row["water_temp_c"], 1, "°C"), (row["brew_time_s"], 0, "s"), (row["pressure_bar"], 1, "bar")
        ),
        "grind": " on ".join(part for part in (row["grind_setting"], row["grinder_id"]) if part),
        "strength": _strength(row),
        "yield": _with_uncertainty(row["extraction_yield_pct"], 1, "% of dose", row["extraction_yield_u_pct"], 2),
        "channeling": row["channeling"] or "not looked at",
        "changed": row["changed"] or "",
        "flags": flagged.get(row["brew_id"], ""),
        "notes": row["notes"] or "",
    }
    return tuple(lines[name][:MOST_CHARACTERS] for name, _ in CARD if name != "coffee")


def _parts(*parts: tuple[float | None, int, str]) -> str:
    return ", ".join(f"{words.number(value, digits)} {unit}" for value, digits, unit in parts if value is not None)


def _strength(row: Mapping[str, Any]) -> str:
    text = _with_uncertainty(row["tds_pct"], 2, "%", row["tds_u_pct"], 3)
    readings = row["n_readings"]
    return f"{text} ({words.count(readings, 'reading')})" if text and readings else text


def _with_uncertainty(value: float | None, digits: int, unit: str, u: float | None, u_digits: int) -> str:
    if value is None:
        return ""
    text = f"{words.number(value, digits)} {unit}"
    return text if u is None else f"{text}, standard uncertainty {words.number(u, u_digits)}"
