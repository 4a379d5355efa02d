"""What the models leave over, and what to look for in it."""

from __future__ import annotations

from analysis import words
from analysis.charts.residual_marks import residual_marks
from analysis.charts.residuals import against_fitted, against_normal, in_time
from pipeline.publish.content import Drawing, PageInput, Section
from pipeline.publish.markup import Head, escaped, figure, folded, paragraph, section, table

INTRO = (
    "A residual is a brew's yield less what the model expects for its settings and coffee. A sound model leaves a "
    "shapeless band around zero."
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


def residual_checks(page: PageInput) -> Section:
    """Three charts per fitted model."""
    blocks, drawings, data = [], [], {}
    for one in page.effects:
        if one.result is None or one.result.residuals.is_empty():
            continue
        marks = residual_marks(one.result.residuals, page.marks)
        name, title = f"residuals-{one.method}", words.capital(words.method_word(one.method))
        data[name] = marks
        figures = []
        for look, heading, chart, caption in LOOKS:
            chart_id = f"{name}-{look}"
            drawings.append(Drawing(chart_id, chart(title, marks), name, needs=("residual",)))
            figures.append(figure(chart_id, heading, caption))
        rows = [
            (row["brew_id"], words.number(row["fitted"], 1), words.signed(row["residual"], 2))
            for row in one.result.residuals.iter_rows(named=True)
        ]
        values = table(HEADS, rows, caption=f"{title}: expected yield and residual", rest="")
        fold = folded(f"Table: {title.lower()}, residuals", values)
        blocks.append(
            f'<div data-method="{escaped(one.method)}"><h3>{escaped(title)}</h3>'
            f'<div class="pair">{"".join(figures)}</div>{fold}</div>'
        )
    if not blocks:
        return Section("")
    html = section("residuals", "Can the models be trusted?", paragraph(INTRO), *blocks)
    return Section(html, tuple(drawings), data)
