"""How far readings of one brew scatter, by instrument and method."""

from __future__ import annotations

from analysis import words
from analysis.charts.measurement.reading_scatter import (
    FEWEST_REPEATED,
    MOST_POINTS,
    ODD,
    ReadingScatter,
    scatter_chart,
    scatter_words,
)
from pipeline.publish.content import Drawing, Section
from pipeline.publish.markup import Head, bullets, folded, pair, paragraph, section, table
from pipeline.publish.measurement.content import MeasuredPage
from pipeline.publish.measurement.figures import figure_of

INTRO = (
    "Each point is a reading less the mean of its brew on that instrument by the same reader; dashed, twice the "
    "standard deviation of a reading on either side. More readings of a drop narrow only this scatter, not what the "
    "instrument is off by."
)
MOST_PANELS = 12
MOST_NAMED = 3
HEADS = (
    Head("Instrument"),
    Head("Method"),
    Head("Brews", True),
    Head("Read more than once", True),
    Head("Standard deviation of a reading, %", True),
    Head("95 % interval", True),
    Head("Degrees of freedom", True),
    Head("Between drops, beyond their readings, %", True),
)
METHOD = (
    "Standard deviations are pooled within brews and readers (void brews left out); their intervals are by chi-square. "
    "Where brews gave several drops, the budget takes the scatter of the drops' means, so that more readings of one "
    "drop do not shrink what differs between drops.",
    f"A reading counts as odd where it lies over {ODD:g} of its own standard deviations from the mean of its brew; of "
    "very many readings, over as many as sound ones exceed in one log of twenty.",
)


def readings(page: MeasuredPage) -> Section:
    """A panel per instrument and method with enough repeats; the rest stands in the table."""
    drawn = [one for one in page.scatters if one.n_repeated >= FEWEST_REPEATED][:MOST_PANELS]
    drawings = [Drawing(f"readings-{k}", scatter_chart(one)) for k, one in enumerate(drawn)]
    figures = [
        figure_of(drawing.chart_id, one.title, _below(one), method=one.method, instruments=[one.instrument])
        for drawing, one in zip(drawings, drawn, strict=True)
    ]
    html = section(
        "readings",
        "How far readings of one brew scatter",
        paragraph(INTRO if drawn else _nothing(page)),
        pair(*figures) if figures else "",
        bullets(_odd(page)),
        folded("Table: scatter of readings by instrument and method", _table(page)) if page.scatters else "",
        folded("Method note: scatter of readings", bullets(METHOD)),
    )
    return Section(html, tuple(drawings))


def _nothing(page: MeasuredPage) -> str:
    if not page.scatters:
        return "No brew has a reading of strength. Read each brew twice, and name the instrument."
    most = max(one.n_repeated for one in page.scatters)
    found = (
        f"At most {words.count(most, 'brew')} of one method {'was' if most == 1 else 'were'}" if most else "No brew was"
    )
    return (
        f"{found} read more than once on one instrument; a picture takes {FEWEST_REPEATED}. Read each brew twice: that "
        "tells how far readings scatter."
    )


def _below(one: ReadingScatter) -> str:
    text = f"Standard deviation of a reading: {scatter_words(one)}."
    if one.readings.height > MOST_POINTS:
        text += f" Drawn: {MOST_POINTS:,} of {words.count(one.readings.height, 'reading')}, and every odd one."
    return text


def _odd(page: MeasuredPage) -> list[str]:
    """Brews whose readings stand apart, named."""
    said = []
    for one in page.scatters:
        odd = one.odd_brews
        if odd.is_empty():
            continue
        named = [
            f"{brew_id} ({words.number(apart, 3)} % between its readings)"
            for brew_id, apart in odd.head(MOST_NAMED).iter_rows()
        ]
        more = odd.height - len(named)
        whole = [*named, f"{more} more"] if more else named
        said.append(f"{one.title}: readings stand apart in {words.listed(whole)}. Look at the log.")
    return said


def _table(page: MeasuredPage) -> str:
    rows = [
        (
            one.instrument or "not named",
            words.method_word(one.method),
            one.n_brews,
            one.n_repeated,
            words.number(one.sd, 4) if one.sd is not None else "no repeats",
            words.span(one.low, one.high, 4) if one.low is not None and one.high is not None else "",
            one.df,
            words.number(one.drops.sample_pct, 4) if one.drops.sample_pct is not None else "not sampled twice",
        )
        for one in page.scatters
    ]
    return table(HEADS, rows, caption="Scatter of readings within brews, in % of strength")
