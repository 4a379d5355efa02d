"""The smallest difference worth talking about, and what more effort buys."""

from __future__ import annotations

from analysis import words
from analysis.charts.measurement.smallest_chart import difference_ends, smallest_chart
from analysis.charts.measurement.smallest_rows import Comparison, MethodSmallest
from analysis.measurement.smallest_difference import sharing_words
from pipeline.publish.content import Drawing, Section
from pipeline.publish.markup import Head, bullets, figure, folded, pair, paragraph, section, table
from pipeline.publish.measurement.content import MeasuredPage

INTRO = (
    "Filled mark: two results that lie no farther apart may be of one and the same coffee (95 %). Hollow mark: a true "
    "difference of this size is found in 8 of 10 comparisons. Unless a panel says otherwise, both sides are read on "
    "one refractometer and weighed on one weighing scale, so that offsets cancel; on two they would count in full."
)
SHARED = sharing_words(one_instrument=True, one_scale=True)
HEADS = (
    Head("Method"),
    Head("Comparison"),
    Head("By chance up to (critical), points", True),
    Head("Found in 8 of 10 (detectable), points", True),
    Head("Standard uncertainty of the difference, points", True),
    Head("Degrees of freedom", True),
)
METHOD = (
    "Critical: Student's t times the standard uncertainty of a difference (1.96 where it rests on many repeats). "
    "Detectable: 80 % power, by the non-central t (2.80 with many repeats).",
    "Two brews: a real brew in the middle of its method, measured as often as the project mostly does. What two brews "
    "on one instrument share is taken out as far as their sensitivities agree.",
    "Two recipes: the scatter of brews to one recipe takes the place of the scatter of measuring, which it holds. The "
    "same recipe means the same recipe_id, else the same coffee, method, grinder and dial setting, doses within 0.3 g "
    "and ratios within 5 %.",
)


def smallest(page: MeasuredPage) -> Section:
    """A panel per method, a row per way of comparing."""
    drawn = [one for one in page.smallest if one.rows]
    drawings, figures = [], []
    for k, (one, end) in enumerate(zip(drawn, difference_ends(drawn), strict=True)):
        drawings.append(Drawing(f"smallest-{k}", smallest_chart(one, end)))
        figures.append(figure(f"smallest-{k}", _title(one), _below(one), method=one.method))
    nothing = "" if drawn else "That needs a yield with an uncertainty, and brews that were read twice."
    html = section(
        "smallest",
        "The smallest difference worth talking about",
        paragraph(INTRO if drawn else nothing),
        pair(*figures) if figures else "",
        bullets(_refusals(page)),
        folded("Table: every comparison by method", _table(page)) if drawn else "",
        folded("Method note: smallest differences", bullets(METHOD)),
    )
    return Section(html, tuple(drawings))


def _title(one: MethodSmallest) -> str:
    return words.capital(words.method_word(one.method))


def _below(one: MethodSmallest) -> str:
    """What the numbers rest on, and what could not be said."""
    rests = one.measured.rests_on.removesuffix(f" {SHARED}") if one.measured else ""
    unknown = [p.sentence(0.0) for p in (one.measured.purchases if one.measured else ()) if p.reduction_pct is None]
    return " ".join(
        part for part in (one.note, rests, one.wide_readings, one.recipe_scatter, one.wide, *unknown) if part
    )


def _refusals(page: MeasuredPage) -> list[str]:
    """Why a comparison cannot be made, each reason once and with its method."""
    said = [
        reason if words.method_word(one.method) in reason else f"{_title(one)}: {reason}"
        for one in page.smallest
        for reason in (one.no_brews, one.no_recipes)
        if reason
    ]
    return list(dict.fromkeys(said))


def _table(page: MeasuredPage) -> str:
    rows = [_cells(_title(one), row) for one in page.smallest for row in one.rows]
    return table(HEADS, rows, caption="Smallest differences of two yields")


def _cells(method: str, row: Comparison) -> tuple[str, ...]:
    found = row.found
    return (
        method,
        row.words,
        words.number(found.critical, 2),
        words.number(found.detectable, 2),
        words.number(found.u_difference, 3),
        df_words(found.df),
    )


def df_words(df: float) -> str:
    """Degrees of freedom in whole numbers.

    >>> df_words(12.7), df_words(float("inf"))
    ('12', 'no limit')
    """
    return "no limit" if df == float("inf") else f"{int(df):,}"
