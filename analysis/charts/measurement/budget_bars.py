"""What makes a yield uncertain: a bar per error, as long as its share of the variance."""

from __future__ import annotations

from typing import Any

import altair as alt

from analysis.charts import palette
from analysis.charts.measurement.grammar import MARK_DOWN, chart_of_rows, layer, row_names, y_of_rows
from analysis.charts.measurement.method_budgets import MethodBudget, line_words
from analysis.words import capital, digits_for, method_word, number

LEAST_SHARE = 0.005
"""Smaller shares would read 0 %: they are counted in one line of words."""
BAR_HEIGHT = 11
FACTOR = 1.959964


def shown_lines(one: MethodBudget) -> list[dict[str, Any]]:
    """Rows of the chart: the lines of at least half a percent, largest first.

    `alone` is the half width of the 95 % interval that the line alone would give.
    """
    kept = [line for line in one.lines if line.share >= LEAST_SHARE]
    places = digits_for([FACTOR * line.alone_points for line in kept], most=2)
    return [
        {
            "row": k,
            "name": line_words(line),
            "share": round(100 * line.share, 2),
            "side": f"{number(100 * line.share, 0)} %, ±{number(FACTOR * line.alone_points, places)}",
            "words": (
                f"{line_words(line)}: {number(100 * line.share, 0)} % of the variance; alone it would make "
                f"±{number(FACTOR * line.alone_points, places)} points"
            ),
        }
        for k, line in enumerate(kept)
    ]


def budget_bars(one: MethodBudget) -> Any:
    """Chart of one method."""
    rows = shown_lines(one)
    x = alt.X(
        "share:Q",
        title="Share of the variance (%)",
        scale=alt.Scale(domain=[0, 100]),
        axis=alt.Axis(tickCount=5),
    )
    bars = (
        layer(rows, "bars")
        .mark_bar(height=BAR_HEIGHT, color=palette.QUIET, yOffset=MARK_DOWN)
        .encode(x=x, y=y_of_rows(), tooltip=alt.Tooltip("words:N"))
    )
    said = ". ".join(row["words"] for row in rows)
    about = f"{capital(method_word(one.method))}: what makes a yield uncertain, from {one.n_brews} brews. {said}."
    return chart_of_rows([bars, *row_names(rows)], len(rows), about)
