"""What the models leave over, and what to look for in it."""

from __future__ import annotations

import polars as pl

from analysis import words
from analysis.charts.effects_input import EffectsLike
from analysis.charts.residual_marks import residual_marks
from analysis.charts.residuals import against_fitted, against_normal, in_time
from pipeline.publish.content import Drawing, PageInput, Section
from pipeline.publish.markup import Head, escaped, figure, on_screen, pair, paragraph, section, table

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
PRINTED = "Printed: the checks of the method brewed most. Those of {others} are on the page itself."


def residual_checks(page: PageInput) -> Section:
    """Three charts per fitted model: open for the method brewed most, folded for the others."""
    fitted = [(one.method, one.result) for one in page.effects if one.result is not None]
    fitted = [(method, result) for method, result in fitted if result.residuals.height]
    if not fitted:
        return Section("")
    blocks, drawings, data = [], [], {}
    for method, result in fitted:
        marks, name = residual_marks(result.residuals, page.marks), f"residuals-{method}"
        title = _title(method)
        data[name] = marks
        figures = [figure(f"{name}-{look}", heading, below) for look, heading, _, below in LOOKS]
        drawings += [
            Drawing(f"{name}-{look}", chart(title, marks), name, needs=("residual",)) for look, _, chart, _ in LOOKS
        ]
        blocks.append((method, pair(*figures, f"<div>{_largest(result)}{_table(title, result)}</div>")))
    (first, shown), *others = blocks
    folds = "".join(
        f'<details class="screen" data-keep data-method="{escaped(method)}">'
        f"<summary>{escaped(_title(method))}: the same checks</summary>{content}</details>"
        for method, content in others
    )
    named = words.listed([words.method_word(method) for method, _ in others])
    html = section(
        "residuals",
        "Can the models be trusted?",
        paragraph(INTRO),
        f'<div data-method="{escaped(first)}"><h3>{escaped(_title(first))}</h3>{shown}</div>',
        folds,
        paragraph(PRINTED.format(others=named) if others else "", kind="note paper"),
    )
    return Section(html, tuple(drawings), data)


def _title(method: str) -> str:
    return words.capital(words.method_word(method))


def _largest(result: EffectsLike) -> str:
    """The brews that the model misses by most, and whether any of them stands out."""
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
    rows = _cells(ranked.head(MOST_NAMED))
    return f"<h3>Farthest from what the model expects</h3>{paragraph(verdict)}" + table(
        HEADS, rows, caption="The largest residuals"
    )


def _table(title: str, result: EffectsLike) -> str:
    values = table(HEADS, _cells(result.residuals), caption=f"{title}: expected yield and residual")
    return on_screen(f"Table: {title.lower()}, residuals", values, printed=SEE_FACTS)


def _cells(residuals: pl.DataFrame) -> list[tuple[str, str, str]]:
    return [
        (row["brew_id"], words.number(row["fitted"], 1), words.signed(row["residual"], 2))
        for row in residuals.iter_rows(named=True)
    ]
