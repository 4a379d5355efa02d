"""Yield or strength over two settings: a coloured cell where brews were made, blank where nothing is known."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Literal

import altair as alt
import polars as pl

from analysis.charts import palette, theme
from analysis.charts.domain import Domain
from analysis.effects.factors import DIAL, FACTORS
from analysis.prediction.contours import Contours
from analysis.prediction.rows import GRINDS, setting_words
from analysis.words import capital, count, listed, number
from schemas.columns import COLUMNS

HEIGHT = 300
BANDS = 7
Quantity = Literal["extraction_yield_pct", "cup_tds_pct", "chance"]
SIGNS = {"C": "°C", "um": "µm"}


@dataclass(frozen=True)
class Look:
    """How one quantity is named and shown: its title, digits, and what a value is multiplied by."""

    title: str
    noun: str
    digits: int
    times: float = 1.0


LOOKS: dict[str, Look] = {
    "extraction_yield_pct": Look("Expected yield (% of dose)", "expected yield", 1),
    "cup_tds_pct": Look("Expected strength (% dissolved)", "expected strength", 2),
    "chance": Look("Chance of landing (%)", "chance of landing in the window", 0, 100.0),
}


def contour_chart(contours: Contours, quantity: Quantity) -> Any:
    """Chart of one quantity over the two settings; its description says where it is lowest and highest."""
    look = LOOKS[quantity]
    rows = contour_rows(contours, quantity)
    x = _axis(theme.axis_x, "x_start:Q", contours.x_factor, contours.cells, "x")
    y = _axis(theme.axis_y, "y_start:Q", contours.y_factor, contours.cells, "y")
    cells = (
        alt.Chart(alt.InlineData(values=rows), name="cells")
        .mark_rect(clip=True)
        .encode(
            x=x,
            y=y,
            x2=alt.X2("x_end:Q"),
            y2=alt.Y2("y_end:Q"),
            fill=alt.Fill(
                "value:Q",
                title=look.title,
                # One hue from light to dark keeps its order in greyscale and for every eye.
                scale=alt.Scale(type="quantize", range=shades(), domain=_ends(rows), nice=False),
                legend=alt.Legend(orient="top", format=f",.{look.digits}f", direction="horizontal"),
            ),
            tooltip=alt.Tooltip("words:N"),
        )
    )
    return theme.layered(
        [cells], data=alt.InlineData(values=[]), height=HEIGHT, about=_about(contours, quantity), marks_brews=False
    )


def contour_rows(contours: Contours, quantity: Quantity) -> list[dict[str, Any]]:
    """A row per cell: its sides, its value and its words; a quantity that is not there gives none."""
    look = LOOKS[quantity]
    known = contours.cells.filter(pl.col(quantity).is_not_null())
    return [
        {
            **{name: round(row[name], 6) for name in ("x_start", "x_end", "y_start", "y_end")},
            "value": round(row[quantity] * look.times, 4),
            "words": f"{_at(contours, row)}: {look.noun} {number(row[quantity] * look.times, look.digits)} %",
        }
        for row in known.iter_rows(named=True)
    ]


def shades() -> list[str]:
    """Fills from pale to full, `BANDS` of one hue."""
    return [palette.mixed(palette.HUES[0], palette.LIGHT_PAPER, 0.88 * (1 - k / (BANDS - 1))) for k in range(BANDS)]


def _ends(rows: list[dict[str, Any]]) -> list[float]:
    values = [row["value"] for row in rows] or [0.0]
    low, high = min(values), max(values)
    return [low, high] if high > low else [low - 0.5, high + 0.5]


def _at(contours: Contours, row: dict[str, Any]) -> str:
    return f"{setting_words(contours.x_factor, row['x'])}, {setting_words(contours.y_factor, row['y'])}"


def _axis(make: Any, field: str, name: str, cells: pl.DataFrame, axis: str) -> Any:
    low = float(cells[f"{axis}_start"].to_numpy().min())
    high = float(cells[f"{axis}_end"].to_numpy().max())
    domain = Domain(low, high)
    return make(field, _title(name), domain.low, domain.high, digits=domain.decimals)


def _title(name: str) -> str:
    unit = SIGNS.get(COLUMNS[name].unit, COLUMNS[name].unit)
    if name in GRINDS:
        return f"Grind ({'steps' if name == DIAL else unit} finer than the reference)"
    return f"{capital(FACTORS[name].noun)} ({unit})" if unit else capital(FACTORS[name].noun)


def _about(contours: Contours, quantity: Quantity) -> str:
    look = LOOKS[quantity]
    known = contours.cells.filter(pl.col(quantity).is_not_null()).sort(quantity)
    names = f"{FACTORS[contours.x_factor].noun} and {FACTORS[contours.y_factor].noun}"
    whom = "a new coffee" if contours.coffee is None else contours.coffee
    brews = f"{count(contours.n_brews, 'brew')} of {count(contours.n_coffees, 'coffee')}"
    held = [setting_words(name, value) for name, value in contours.held.items()]
    at = f", {listed(held)} held" if held else ""
    head = f"{capital(look.noun)} over {names} for {whom}, from {brews}{at}; blank where nothing was brewed."
    if known.is_empty():
        return head
    low, high = known.row(0, named=True), known.row(-1, named=True)
    ends = [
        f"{word} {number(row[quantity] * look.times, look.digits)} % at {_at(contours, row)}"
        for word, row in (("Lowest", low), ("highest", high))
    ]
    return f"{head} {'; '.join(ends)}."
