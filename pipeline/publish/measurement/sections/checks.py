"""Zero and reference checks of every instrument over time, with limits, drift and the times in doubt."""

from __future__ import annotations

from datetime import datetime

from analysis import words
from analysis.charts.measurement.checks_over_time import CheckSeries, check_chart, check_series, series_words
from analysis.charts.measurement.grammar import local_ms
from analysis.measurement.calibration_words import failure_words, record_sentences, span_words
from analysis.measurement.correction_words import correction_words
from analysis.measurement.instrument_record import InstrumentRecord
from analysis.measurement.said import full_stop
from analysis.measurement.zero_chart import Verdict
from pipeline.publish.content import Drawing, Section
from pipeline.publish.markup import Head, bullets, escaped, folded, pair, paragraph, section, table
from pipeline.publish.measurement.content import MeasuredPage
from pipeline.publish.measurement.figures import figure_of

INTRO = (
    "Each point is a check: what the instrument read less what was due. Dashed: the limits that decide whether it "
    "passed. The line is its drift, drawn as far as there are checks, dotted where no drift is shown. Shaded: readings "
    "are in doubt, from the last check that passed before a failed one to the next that passes."
)
MOST_CHARTS = 4
"""Charts of one instrument; the rest of its levels stand in the table."""
HEADS = (
    Head("Instrument"),
    Head("Checked"),
    Head("Check"),
    Head("Due", True),
    Head("Read", True),
    Head("Error", True),
    Head("Allowed", True),
    Head("Passed"),
)
KINDS = {"water_zero": "zero on water", "reference": "reference"}
PASSED = {True: "yes", False: "no", None: "nothing decides"}
METHOD = (
    "A check passes within the tolerance that lab.toml declares under [checks]; without one, within three standard "
    "deviations of the checks themselves, taken from their mean moving range (NIST/SEMATECH e-Handbook, 6.3.2.2), from "
    "8 checks on.",
    "Drift: a straight line through the occasions, checks within an hour counting once, each reference value with a "
    "level of its own; 95 % interval by Student's t.",
    "A correction is fitted to reference checks with the reference's own error, and is applied to readings only where "
    "lab.toml declares it.",
)


def checks(page: MeasuredPage) -> Section:
    """Instrument by instrument: what is to be said of it, then its checks over time."""
    checked = [record for record in page.records if record.instrument.checks]
    drawings: list[Drawing] = []
    blocks = [_block(page, record, k, drawings) for k, record in enumerate(checked)]
    html = section(
        "checks",
        "Do the instruments hold still?",
        paragraph(INTRO if checked else _nothing(page)),
        *blocks,
        bullets(_unchecked(page) if checked else []),
        folded("Table: every check", _table(page, checked)) if checked else "",
        folded("Method note: checks", bullets(METHOD)),
    )
    return Section(html, tuple(drawings))


def _nothing(page: MeasuredPage) -> str:
    names = page.refractometers
    who = f" of {words.listed(names)}" if names else ""
    return (
        f"No check{who} is logged, so nothing is known of drift or of what a reading is off by. Zero the refractometer "
        "on water each day and read a known reference each week, and log both in the calibrations table."
    )


def _block(page: MeasuredPage, record: InstrumentRecord, k: int, drawings: list[Drawing]) -> str:
    name, zone = record.instrument.instrument_id, page.settings.timezone
    figures = []
    for position, one in enumerate(check_series(record)[:MOST_CHARTS]):
        chart_id = f"checks-{k}-{position}"
        unit, last = record.instrument.unit, page.last_read.get(name)
        drawings.append(Drawing(chart_id, check_chart(one, record.doubts, unit=unit, timezone=zone, last=last)))
        figures.append(figure_of(chart_id, one.title, _below(one, unit), instruments=[name]))
    corrected = [full_stop(text) for text in correction_words(record, timezone=zone)]
    said = [text for text in record_sentences(record, timezone=zone) if text not in corrected]
    return (
        f'<div data-instrument="{escaped(name)}"><h3>{escaped(name)}</h3>{_doubts(page, name)}'
        f"{bullets([*said[len(record.doubts) :], *corrected[-1:]])}"
        f"{folded(f'{name}: what its references say of a correction', bullets(corrected[:-1]))}</div>{pair(*figures)}"
    )


def _doubts(page: MeasuredPage, name: str) -> str:
    """Spans of doubt with what lies in them; they stand first among the instrument's sentences."""
    zone = page.settings.timezone
    boxes = []
    for one in page.doubts:
        if one.doubt.instrument_id != name:
            continue
        held = (
            f"{words.count(one.n, one.noun)} {'is' if one.n == 1 else 'are'} in doubt" if one.n else "nothing was read"
        )
        lead = f"{words.capital(span_words(one.doubt, timezone=zone))}: {held}."
        why = full_stop(failure_words(one.doubt, timezone=zone))
        boxes.append(f'<div class="{"next stop" if one.n else "next"}">{paragraph(lead)}{paragraph(why)}</div>')
    return "".join(boxes)


def _below(one: CheckSeries, unit: str) -> str:
    return words.capital(series_words(one, unit))


def _unchecked(page: MeasuredPage) -> list[str]:
    found: list[str] = []
    for record in page.records:
        if not record.instrument.checks and record.instrument.kind != "oven":
            found += record_sentences(record, timezone=page.settings.timezone)
    return found


def _table(page: MeasuredPage, checked: list[InstrumentRecord]) -> str:
    rows = [
        _cells(record, verdict, page.settings.timezone)
        for record in checked
        for part in record.verdicts
        for verdict in part
    ]
    return table(HEADS, rows, caption="Checks of the instruments", rest="`brewtrials instruments` lists them all.")


def _cells(record: InstrumentRecord, verdict: Verdict, timezone: str) -> tuple[str, ...]:
    check, unit = verdict.check, record.instrument.unit
    at = datetime.fromtimestamp(local_ms(check.checked_at, timezone) / 1000, tz=check.checked_at.tzinfo)
    allowed = f"{words.signed(verdict.low, 3)} to {words.signed(verdict.high, 3)}" if verdict.passed is not None else ""
    return (
        record.instrument.instrument_id,
        f"{at:%Y-%m-%d %H:%M}",
        KINDS[check.kind],
        f"{words.number(check.reference, 3)} {unit}".strip(),
        f"{words.number(check.observed, 3)} {unit}".strip(),
        words.signed(check.error, 3),
        allowed,
        PASSED[verdict.passed],
    )
