"""Do the weights add up: mass closure where spent grounds were weighed, else the water that beds kept."""

from __future__ import annotations

import polars as pl

from analysis import words
from analysis.charts.measurement.mass_charts import fence, residual_chart, retained_chart, usual_residual
from analysis.measurement.closure_suspects import Suspect
from analysis.measurement.closure_words import method_sentence, screen_sentence, suspect_sentence
from pipeline.publish.content import Drawing, Section
from pipeline.publish.markup import Head, bullets, folded, pair, paragraph, section, table
from pipeline.publish.measurement.content import MeasuredPage
from pipeline.publish.measurement.figures import figure_of

NOTHING = (
    "No brew has dose, water and beverage weighed and its strength read, so there is nothing to add up. With the wet "
    "grounds weighed too (spent_wet_g), every brew's weights can be checked against each other."
)
NO_GROUNDS = (
    "No spent grounds were weighed, so the weights can only be judged by the water that beds keep. Weigh the wet "
    "grounds of a few brews (spent_wet_g): what goes in must come out."
)
FEWEST = 5
MOST_NAMED = 12
HEADS = (
    Head("Brew"),
    Head("Method"),
    Head("Judged by"),
    Head("Found", True),
    Head("Allowed", True),
    Head("Off by, g", True),
)
RESIDUALS = (
    Head("Brew"),
    Head("Method"),
    Head("Unaccounted for, g", True),
    Head("Standard uncertainty, g", True),
    Head("% of the water", True),
    Head("Adds up"),
)
ADDS_UP = {True: "yes", False: "no", None: "cannot be judged"}
METHOD = (
    "Mass closure: dose + water - evaporated - beverage - spent grounds; dissolved matter cancels. It adds up within "
    "twice its standard uncertainty, every weighing independent.",
    "Retained water: water - evaporated - water in the beverage, per gram of dose. Limits: median ± 3.5 robust "
    "standard deviations of the method's own brews, from 8 on (Iglewicz and Hoaglin, 1993), else common practice.",
    "A weight that would explain a brew must also leave it with a usual bed and a usual yield.",
)


def masses(page: MeasuredPage) -> Section:
    """A panel per method: residuals where grounds were weighed, retained water elsewhere."""
    closed = page.masses.filter(pl.col("residual_g").is_not_null())
    kept = page.masses.filter(pl.col("residual_g").is_null(), pl.col("retained_ratio").is_not_null())
    drawings: list[Drawing] = []
    figures = [*_residuals(page, closed, drawings), *_retained(page, kept, drawings)]
    judged = closed.height + kept.height
    html = section(
        "masses",
        "Do the weights add up?",
        paragraph(_answer(page, judged)),
        paragraph("" if closed.height or not judged else NO_GROUNDS),
        bullets(map(suspect_sentence, page.closure.suspects[:MOST_NAMED])),
        pair(*figures) if figures else "",
        folded("What each method was judged by", bullets(_judged_by(page))) if judged else "",
        folded("Table: brews to look at", _suspects(page)) if page.closure.suspects else "",
        folded("Table: every brew with its grounds weighed", _closures(page)) if closed.height else "",
        folded("Method note: weights", bullets(METHOD)),
    )
    return Section(html, tuple(drawings))


def _answer(page: MeasuredPage, judged: int) -> str:
    if not judged:
        return NOTHING
    suspects, left = len(page.closure.suspects), page.closure.n_not_judged
    stands = "stands" if suspects == 1 else "stand"
    found = (
        f"{words.count(suspects, 'brew')} {stands} apart: look for a weighing error"
        if suspects
        else "none stands apart"
    )
    rest = f" {words.count(left, 'brew')} could not be judged." if left else ""
    return f"Of {words.count(judged, 'brew')} judged by their weights, {found}.{rest}"


def _of(page: MeasuredPage, method: str, evidence: str) -> list[Suspect]:
    return [one for one in page.closure.suspects if one.method == method and one.evidence == evidence]


def _methods(brews: pl.DataFrame) -> list[str]:
    """Methods with brews enough for a picture, most brews first."""
    counted = brews["method"].value_counts().sort("count", "method", descending=[True, False])
    return counted.filter(pl.col("count") >= FEWEST)["method"].to_list()


def _residuals(page: MeasuredPage, closed: pl.DataFrame, drawings: list[Drawing]) -> list[str]:
    figures = []
    with_u = closed.with_columns(u_pct=100 * pl.col("residual_u_g") / pl.col("water_g"))
    for method in _methods(closed):
        chart_id, name = f"closure-{len(drawings)}", words.capital(words.method_word(method))
        of_it = with_u.filter(pl.col("method") == method)
        suspects = _of(page, method, "mass balance")
        drawings.append(Drawing(chart_id, residual_chart(of_it, method, suspects)))
        below = (
            "Bars: twice the standard uncertainty. Zero means that all that went in came out."
            f"{_edge(of_it, 'residual_pct', usual_residual(suspects))}"
        )
        figures.append(figure_of(chart_id, f"{name}: what is unaccounted for", below, method=method))
    return figures


def _retained(page: MeasuredPage, kept: pl.DataFrame, drawings: list[Drawing]) -> list[str]:
    figures = []
    limits = {screen.method: screen.usual for screen in page.closure.screens}
    for method in _methods(kept):
        chart_id, name = f"closure-{len(drawings)}", words.capital(words.method_word(method))
        usual = limits.get(method)
        ends = None if usual is None or usual.low is None or usual.high is None else (usual.low, usual.high)
        by_practice = usual is not None and usual.basis == "common practice"
        of_it = kept.filter(pl.col("method") == method)
        drawings.append(Drawing(chart_id, retained_chart(of_it, method, _of(page, method, "retained water"), ends)))
        figures.append(
            figure_of(chart_id, f"{name}: water kept by the bed", _below(of_it, ends, by_practice), method=method)
        )
    return figures


def _below(brews: pl.DataFrame, ends: tuple[float, float] | None, by_practice: bool) -> str:
    if ends is None:
        return "No limits: too few brews of the method, and no common practice known."
    whose = "common practice, as there are few brews of the method" if by_practice else "what is usual here"
    return f"Dashed: {whose}, {words.span(*ends, 2)} g per g.{_edge(brews, 'retained_ratio', ends)}"


def _edge(brews: pl.DataFrame, column: str, usual: tuple[float, float] | None) -> str:
    """Which brews are drawn nearer than they lie."""
    if usual is None:
        return ""
    far = brews.filter(~pl.col(column).is_between(*fence(usual)))["brew_id"].sort().to_list()
    return f" Drawn at the edge, though farther off: {words.listed(far[:MOST_NAMED])}." if far else ""


def _judged_by(page: MeasuredPage) -> list[str]:
    return [*map(method_sentence, page.closure.methods), *map(screen_sentence, page.closure.screens)]


def _suspects(page: MeasuredPage) -> str:
    rows = []
    for one in page.closure.suspects:
        balance = one.evidence == "mass balance"
        digits, unit = (1, "% of the water") if balance else (2, "g/g")
        low, high = one.middle - one.limit, one.middle + one.limit
        rows.append(
            (
                one.brew_id,
                words.method_word(one.method),
                one.evidence,
                f"{words.number(one.value, digits)} {unit}",
                f"{words.span(low, high, digits)} {unit}",
                words.signed(one.off_g, 1),
            )
        )
    return table(HEADS, rows, caption="Likely weighing errors", rest="`brewtrials flags` lists them all.")


def _closures(page: MeasuredPage) -> str:
    rows = [
        (
            row["brew_id"],
            words.method_word(row["method"]),
            words.signed(row["residual_g"], 2),
            words.number(row["residual_u_g"], 2),
            words.signed(row["residual_pct"], 2),
            ADDS_UP[row["closes"]],
        )
        for row in page.closure.residuals.filter(pl.col("residual_g").is_not_null()).iter_rows(named=True)
    ]
    return table(RESIDUALS, rows, caption="What each brew leaves unaccounted for")
