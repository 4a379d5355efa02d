"""What makes a yield uncertain, method by method."""

from __future__ import annotations

from analysis import words
from analysis.charts.measurement.budget_bars import budget_bars
from analysis.charts.measurement.method_budgets import MethodBudget, group_words, line_words
from pipeline.publish.content import Drawing, Section
from pipeline.publish.markup import Head, bullets, figure, folded, pair, paragraph, section, table
from pipeline.publish.measurement.content import MeasuredPage

INTRO = (
    "The ± of a single yield is half of its 95 % interval; it holds what all yields read on one refractometer share. A "
    "bar is one error's share of the variance, averaged over the brews; beside it what that share alone would make of "
    "the middle brew, as a ± in points (such parts add up by their squares). An offset is what an instrument may still "
    "be off by after calibration: it moves all its readings alike."
)
HEADS = (
    Head("Method"),
    Head("Error"),
    Head("Known from"),
    Head("Share of the variance, %", True),
    Head("Alone, standard uncertainty, points", True),
)
METHOD = (
    "Propagation to first order with independent inputs (JCGM 100:2008, 5.1.2) by the mass balance that applies to the "
    "brew; coverage by Student's t with effective degrees of freedom (Welch and Satterthwaite, G.4).",
    "Repeats: the scatter of readings is pooled over brews by instrument and method, never taken from the two or three "
    "readings of one brew. Everything else is stated: what is left of calibration as entered or as a declared "
    "correction leaves it, a display step as a rectangle, a weighing as two readings of the display (tare and load).",
    "Shares are averaged over the brews of a method (of more than 400 brews, 400 taken evenly in order of time).",
)


def budgets(page: MeasuredPage) -> Section:
    """A panel per method: a bar per error."""
    drawn = [one for one in page.budgets if one.lines]
    drawings = [Drawing(f"budget-{k}", budget_bars(one)) for k, one in enumerate(drawn)]
    figures = [
        figure(drawing.chart_id, _title(one), _below(one), method=one.method)
        for drawing, one in zip(drawings, drawn, strict=True)
    ]
    html = section(
        "budgets",
        "What makes a yield uncertain",
        paragraph(INTRO if drawn else ""),
        paragraph("" if drawn else "No yield has an uncertainty, so there is nothing to take apart."),
        pair(*figures) if figures else "",
        bullets(_without(page)),
        folded("Table: every error by method", _table(page)) if drawn else "",
        folded("Method note: budgets", bullets(METHOD)),
    )
    return Section(html, tuple(drawings))


def _title(one: MethodBudget) -> str:
    half = words.number(one.half_width, 2)
    return f"{words.capital(words.method_word(one.method))}: ±{half} points ({words.count(one.n_brews, 'brew')})"


def _below(one: MethodBudget) -> str:
    low, high = words.number(one.half_low, 2), words.number(one.half_high, 2)
    spread = f" Half of the brews lie between ±{low} and ±{high} points." if low != high else ""
    return f"By quantity: {group_words(one.groups)}.{spread}"


def _without(page: MeasuredPage) -> list[str]:
    """Yields without an uncertainty, and why."""
    counted = [(one.method, one.n_without, one.why_without) for one in page.budgets if one.n_without]
    counted += [(one.method, one.n_yields, one.why) for one in page.no_budgets]
    return [
        f"{words.capital(words.method_word(method))}: {words.count(n, 'yield')} without an uncertainty"
        f"{f' ({why})' if why else ''}."
        for method, n, why in counted
    ]


def _table(page: MeasuredPage) -> str:
    rows = [
        (
            words.capital(words.method_word(one.method)),
            line_words(line),
            "repeats" if line.kind == "A" else "stated",
            words.number(100 * line.share, 1),
            words.number(line.alone_points, 4),
        )
        for one in page.budgets
        for line in one.lines
    ]
    return table(HEADS, rows, caption="Errors behind a yield, largest first within a method")
