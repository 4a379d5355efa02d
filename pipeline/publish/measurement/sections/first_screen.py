"""The first screen: how good a yield is, what it takes to tell two apart, and what to do next."""

from __future__ import annotations

import polars as pl

from analysis import words
from analysis.charts.measurement.first_answer import measurement_answer
from analysis.charts.measurement.method_budgets import MethodBudget, line_words, main_line
from analysis.charts.measurement.smallest_rows import USUAL_BREWS, MethodSmallest
from analysis.measurement.smallest_difference import SmallestDifference
from pipeline.publish.document import INDEX, link_to
from pipeline.publish.markup import Head, escaped, paragraph, table
from pipeline.publish.measurement.content import MeasuredPage

QUESTION = "How good are the numbers?"
HEADS = (
    Head("Method"),
    Head("Brews", True),
    Head("A single yield, ± points", True),
    Head("Largest part of that"),
    Head("Two brews: by chance / found, points", True),
    Head(f"Two recipes, {USUAL_BREWS} brews each: by chance / found, points", True),
)
CAPTION = (
    "By method: the half width of a yield's 95 % interval (the middle brew), and the difference of two yields that "
    "measuring (two brews) or brewing and measuring (two recipes) alone may give, then the one that is found in 8 of "
    "10 comparisons"
)


def first_screen(page: MeasuredPage) -> str:
    """Heading, answer, next step, and the numbers of every method."""
    n_brews = page.brews.filter(~pl.col("is_void")).height
    found = measurement_answer(
        page.budgets,
        page.no_budgets,
        page.smallest,
        page.doubts,
        n_brews=n_brews,
        timezone=page.settings.timezone,
    )
    said = paragraph(found.said[0], kind="said") + "".join(map(paragraph, found.said[1:]))
    return (
        f"<header>{paragraph(page.settings.name or 'Brew trials', kind='lab')}<h1>{escaped(QUESTION)}</h1>{said}"
        f'<div class="{"next stop" if found.is_blocked else "next"}">{paragraph(found.next_step)}'
        f"{''.join(map(paragraph, found.reasons))}</div>{_methods(page)}"
        f"{link_to(INDEX, 'What moved extraction? Back to the brews')}</header>"
    )


def _methods(page: MeasuredPage) -> str:
    if not page.budgets:
        return ""
    rows = [_row(budget, small) for budget, small in zip(page.budgets, page.smallest, strict=True)]
    return table(HEADS, rows, caption=CAPTION)


def _row(one: MethodBudget, small: MethodSmallest) -> tuple[object, ...]:
    main = main_line(one.lines)
    return (
        words.capital(words.method_word(one.method)),
        one.n_brews,
        words.number(one.half_width, 2),
        f"{line_words(main)} ({round(100 * main.share)} %)" if main else "nothing counted",
        _pair(small.measured),
        _pair(small.usual),
    )


def _pair(found: SmallestDifference | None) -> str:
    if found is None:
        return words.NO_VALUE
    return f"{words.number(found.critical, 2)} / {words.number(found.detectable, 2)}"
