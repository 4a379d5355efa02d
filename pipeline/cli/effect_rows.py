"""The effects table on the screen, each row to the decimals that its interval supports."""

from __future__ import annotations

from typing import TYPE_CHECKING

from analysis.effects.words import decimals, plain
from pipeline.cli.tables import show_rows

if TYPE_CHECKING:
    import polars as pl

SHOWN = ("term", "unit", "per", "estimate", "low", "high", "p_value", "n_brews", "n_coffees")
SMALLEST_P = 0.001
NUMBERS = SHOWN[3:]


def show_effects(table: pl.DataFrame) -> None:
    """Print the effects table (EFFECT_COLUMNS)."""
    show_rows(SHOWN, [_cells(row) for row in table.select(SHOWN).to_dicts()], right=NUMBERS)


def _cells(row: dict[str, object]) -> tuple[str, ...]:
    estimate, low, high, p_value = (float(str(row[name])) for name in ("estimate", "low", "high", "p_value"))
    places = decimals(low, high)
    p_words = f"{p_value:.3f}" if p_value >= SMALLEST_P else f"<{SMALLEST_P}"
    return (
        *(str(row[name] or "") for name in ("term", "unit", "per")),
        *(plain(value, places) for value in (estimate, low, high)),
        # That of a level would ask whether the yield is zero, which nobody does.
        "" if str(row["term"]).startswith("intercept") else p_words,
        f"{row['n_brews']:,}",
        f"{row['n_coffees']:,}",
    )
