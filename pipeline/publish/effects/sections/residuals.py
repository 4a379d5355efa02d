"""What to look for in what a model leaves over, and the brews that it misses by most."""

from __future__ import annotations

import polars as pl

from analysis import words
from analysis.charts.effects_input import EffectsLike
from analysis.charts.residuals import against_fitted, against_normal, in_time
from pipeline.publish.markup import Head, on_screen, paragraph, table

INTRO = (
    "A residual is a brew's yield less what the model expects for its settings and coffee. A sound model leaves a "
    "shapeless band around zero; typical is the standard deviation of the residuals."
)
LOOKS = (
    (
        "fitted",
        "Against the expected yield",
        against_fitted,
        "Look for a bend (a curve is missing) or a widening band.",
    ),
    ("time", "In order of time", in_time, "Look for a slope or waves: something drifted between brews."),
    (
        "normal",
        "Against normal residuals",
        against_normal,
        "Look for marks far off the line at the ends: brews that the model cannot explain. Check those records first.",
    ),
)
HEADS = (Head("Brew"), Head("Expected yield, % of dose", True), Head("Residual, points", True))
MOST_NAMED = 5
FAR = 3.0
"""A residual of this many times the typical one deserves a look at its record."""
SEE_FACTS = "On paper without each brew's residual: they are on the page itself."


def far_off(result: EffectsLike) -> str:
    """What a residual is, the brews that the model misses by most, and whether any of them stands out."""
    ranked = result.residuals.sort(pl.col("residual").abs(), "brew_id", descending=[True, False])
    typical = result.sigma
    far = ranked.filter(pl.col("residual").abs() > FAR * typical).height
    verdict = (
        f"{words.count(far, 'brew lies', 'brews lie')} more than {FAR:g} times as far from the expected yield as is "
        f"typical here ({words.number(typical, 2)} points): check {'its record' if far == 1 else 'their records'}."
        if far
        else f"No brew lies more than {FAR:g} times the typical {words.number(typical, 2)} points from the expected "
        "yield."
    )
    largest = table(HEADS, _cells(ranked.head(MOST_NAMED)), caption="The largest residuals")
    every = table(HEADS, _cells(result.residuals), caption="Expected yield and residual of every brew")
    return (
        f"{paragraph(INTRO)}<h4>Farthest from what the model expects</h4>{paragraph(verdict)}{largest}"
        f"{on_screen('Table: residuals of every brew', every, printed=SEE_FACTS)}"
    )


def _cells(residuals: pl.DataFrame) -> list[tuple[str, str, str]]:
    return [
        (row["brew_id"], words.number(row["fitted"], 1), words.signed(row["residual"], 2))
        for row in residuals.iter_rows(named=True)
    ]
