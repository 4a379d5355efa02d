"""The gauge study, if the project has one: how much of the spread is the refractometer and its readers."""

from __future__ import annotations

from analysis import words
from analysis.charts.measurement.gauge_charts import SHAPES, gauge_points, spread_chart, with_offsets
from analysis.charts.measurement.gauge_rows import InstrumentGauge, NoGauge
from analysis.measurement.gauge import PLAIN_NAMES
from analysis.measurement.reader_gaps import reader_gaps
from pipeline.publish.content import Drawing, Section
from pipeline.publish.markup import Head, bullets, escaped, folded, pair, paragraph, section, table
from pipeline.publish.measurement.content import MeasuredPage
from pipeline.publish.measurement.figures import figure_of

NOTHING = (
    "No reading says who took it (read_by), so how much two people differ in reading one brew is not known. For a "
    "gauge study let three people read each of six to ten brews three times, in random order: `brewtrials gauge plan` "
    "writes the run sheet."
)
PARTS = (
    Head("Part"),
    Head("Standard deviation, %", True),
    Head("95 % interval", True),
    Head("Share of the variance, %", True),
    Head("Share of the study variation, %", True),
)
ANOVA = (
    Head("Source"),
    Head("Sum of squares", True),
    Head("Degrees of freedom", True),
    Head("Mean square", True),
    Head("F", True),
    Head("p", True),
)
READINGS = (Head("Brew"), Head("Read by"), Head("Reading, %", True), Head("Less the mean of its brew, %", True))
TERMS = {"brew": "brew", "reader": "reader", "interaction": "reader by brew", "repeat": "repeats"}
METHOD = (
    "Brews, readers and repeats, crossed and all random: analysis of variance; with readings missing, a mixed model "
    "(REML), nothing dropped. Brew and reader are tested against their interaction where it is kept.",
    "Repeatability is the same reader again, reproducibility another reader; the gauge is both together. Shares of the "
    "study variation are of standard deviations and do not add up (AIAG, measurement systems analysis, 4th edition).",
    "A reader against the others: Student's t over the brews that both read, each interval by itself.",
    "A sample that stands grows stronger as it evaporates: a long round counts as a difference between readers.",
)


def gauge(page: MeasuredPage) -> Section:
    """Two charts per instrument with a study: every reading, and the parts of the spread."""
    studies = [one for one in page.gauges if isinstance(one, InstrumentGauge)]
    refused = [one.reason for one in page.gauges if isinstance(one, NoGauge)]
    drawings: list[Drawing] = []
    blocks = [_block(one, k, drawings) for k, one in enumerate(studies)]
    html = section(
        "gauge",
        "Does it matter who reads?",
        *blocks,
        bullets(refused),
        paragraph("" if page.gauges else NOTHING),
        folded("Method note: gauge study", bullets(METHOD)),
    )
    return Section(html, tuple(drawings))


def _block(one: InstrumentGauge, k: int, drawings: list[Drawing]) -> str:
    name, title = one.instrument, one.title
    drawings += [
        Drawing(f"gauge-{k}-readings", gauge_points(one.frame, title)),
        Drawing(f"gauge-{k}-parts", spread_chart(one.study, title)),
    ]
    first = figure_of(
        f"gauge-{k}-readings", f"{title}: every reading less the mean of its brew", _basis(one), instruments=[name]
    )
    second = figure_of(
        f"gauge-{k}-parts",
        f"{title}: how far each part spreads",
        "Standard deviation with its 95 % interval; an interval that leaves the chart stands in the table.",
        instruments=[name],
    )
    gaps = [gap.sentence for gap in reader_gaps(one.frame)]
    notes = [words.sentence(note) for note in one.study.notes]
    left_out = [f"Left out: {words.listed(one.left_out)}."] if one.left_out else []
    return (
        f'<div data-instrument="{escaped(name)}"><h3>{escaped(title)}</h3>{paragraph(one.verdict.sentence)}'
        f"{paragraph(one.verdict.advice)}{bullets([*gaps, *notes, *left_out])}{_key(one)}</div>{pair(first, second)}"
        f"{folded(f'Table: {title}, parts of the spread and analysis of variance', _parts(one) + _anova(one))}"
        f"{folded(f'Table: {title}, every reading', _readings(one))}"
    )


def _basis(one: InstrumentGauge) -> str:
    study = one.study
    return (
        f"{words.count(study.n_readings, 'reading')} of {words.count(study.n_brews, 'brew')} by "
        f"{words.count(study.n_readers, 'reader')}; {study.model}."
    )


DRAWN_SHAPES = {
    "circle": '<circle cx="6" cy="6" r="4.5"/>',
    "triangle-up": '<path d="M1 10h10l-5-9z"/>',
    "square": '<rect x="2" y="2" width="8" height="8"/>',
    "diamond": '<path d="M6 1l4 5-4 5-4-5z"/>',
    "cross": '<path d="M4 1h4v3h3v4h-3v3h-4v-3h-3v-4h3z"/>',
    "triangle-down": '<path d="M1 2h10l-5 9z"/>',
    "triangle-right": '<path d="M2 1l9 5-9 5z"/>',
}


def _key(one: InstrumentGauge) -> str:
    """A colour and a shape per reader."""
    readers = one.frame["operator"].unique().sort().to_list()
    items = "".join(
        f'<li><svg class="dot k{min(k, 7)}" viewBox="0 0 12 12" aria-hidden="true">'
        f"{DRAWN_SHAPES[SHAPES[k % len(SHAPES)]]}</svg>{escaped(reader)}</li>"
        for k, reader in enumerate(readers)
    )
    return f'<ul class="key" aria-label="Readers">{items}</ul>'


def _parts(one: InstrumentGauge) -> str:
    rows = [
        (
            words.capital(PLAIN_NAMES[part.name]),
            words.number(part.sd, 5),
            words.span(part.sd_low, part.sd_high, 5),
            words.number(part.share_of_variance_pct, 1),
            words.number(part.share_of_spread_pct, 1),
        )
        for part in one.study.spreads.values()
    ]
    return table(PARTS, rows, caption=f"{one.title}: parts of the spread, in % of strength")


def _anova(one: InstrumentGauge) -> str:
    rows = [
        (
            TERMS[row.term],
            f"{row.squares:.6g}",
            row.df,
            f"{row.mean:.6g}",
            "" if row.f is None else words.number(row.f, 2),
            "" if row.p_value is None else words.p_range(row.p_value),
        )
        for row in one.study.anova
    ]
    return table(ANOVA, rows, caption=f"{one.title}: analysis of variance")


def _readings(one: InstrumentGauge) -> str:
    rows = [
        (row["brew_id"], row["operator"], words.number(row["tds_pct"], 3), words.signed(row["off_pct"], 3))
        for row in with_offsets(one.frame).iter_rows(named=True)
    ]
    return table(READINGS, rows, caption=f"{one.title}: readings of the study")
