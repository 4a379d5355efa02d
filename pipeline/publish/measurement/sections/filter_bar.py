"""The filter: methods and instruments; it hides whole charts."""

from __future__ import annotations

from analysis import words
from analysis.measurement.agreement import Agreement
from pipeline.publish.document import Filters
from pipeline.publish.measurement.content import MeasuredPage
from pipeline.publish.sections.filter_bar import boxes

HOW = "Tick what to keep; with nothing ticked in a group, all of it is kept. Tables always state everything."


def methods(page: MeasuredPage) -> list[str]:
    """Methods that some chart is about, most measured first."""
    budgets = [one.method for one in page.budgets]
    others = sorted({one.method for one in page.scatters} | set(page.masses["method"]))
    return list(dict.fromkeys([*budgets, *others]))


def instruments(page: MeasuredPage) -> list[str]:
    """Instruments that some chart is about, by name."""
    checked = {record.instrument.instrument_id for record in page.records if record.instrument.checks}
    compared = {name for pair in page.pairs if isinstance(pair, Agreement) for name in (pair.a, pair.b)}
    return sorted({*page.refractometers, *checked, *compared})


def offered(page: MeasuredPage) -> Filters:
    """What the boxes stand for; a comparison of two instruments belongs to both."""
    return {"m": (("method",), methods(page)), "n": (("instrument", "second"), instruments(page))}


def filter_bar(page: MeasuredPage) -> str:
    """The bar that stays in view."""
    groups = [
        boxes("m", "Method", [(words.method_word(method), "") for method in methods(page)]),
        boxes("n", "Instrument", [(name, "") for name in instruments(page)]),
    ]
    button = '<button type="reset">Show all</button>' if any(groups) else ""
    fold = (
        f'<details data-keep><summary>Filter the charts</summary><form id="filters"><p>{HOW}</p>'
        f"{''.join(groups)}{button}</form></details>"
        if any(groups)
        else '<form id="filters" hidden></form>'
    )
    return (
        f'<nav id="bar" aria-label="Filter"><div>{fold}'
        '<p id="status" role="status"></p><p id="marked" role="status"></p>'
        '<button type="button" id="clear" hidden>Clear marks</button></div></nav>'
        "<noscript><p>Charts and filters need scripts; every number also stands in the tables.</p></noscript>"
    )
