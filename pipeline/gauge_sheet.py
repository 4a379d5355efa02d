"""The run sheet of a gauge study: a table to fill in that goes straight back in as readings, and a page for the bench.

The table (csv, xlsx) names the brews, so it is for whoever types; the page (html) carries vial numbers only and is for
the readers.
"""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from typing import Any

import polars as pl
import xlsxwriter

from analysis.measurement.gauge_plan import GaugePlan, PlannedReading
from analysis.words import count, number
from pipeline.exports import ByteFile, replace_file, write_frame
from pipeline.publish.markup import escaped
from schemas.problem import ProblemError

SHEET_COLUMNS: dict[str, pl.DataType] = {
    "brew_id": pl.String(),
    "instrument_id": pl.String(),
    "sample_no": pl.Int64(),
    "reading_no": pl.Int64(),
    "read_by": pl.String(),
    "tds_pct": pl.Float64(),
    "sample_temp_c": pl.Float64(),
    "read_at": pl.String(),
}
"""Columns of the readings table; `sample_no` is the number on the vial, the last three are filled in."""
TO_FILL = ("tds_pct", "sample_temp_c", "read_at")
MADE = datetime(2026, 1, 1)
"""Fixed, so that the same plan gives the same bytes."""
PAPER_A4 = 9
CAUTION = (
    "Hot liquids, steam and pressurised brewers burn. Let brews cool, closed, before samples are drawn; follow the "
    "maker's manual and your workplace rules."
)
STYLE = """
body { font: 15px/1.4 system-ui, sans-serif; max-width: 60em; margin: 1.5em auto; padding: 0 1em; color: #111;
  background: #fff }
table { border-collapse: collapse; width: 100%; margin: 0 0 1.5em }
th, td { border: 1px solid #777; padding: .35em .6em; text-align: left }
td.n, th.n { text-align: right }
caption { text-align: left; font-weight: 600; padding: .3em 0 }
.caution { border: 2px solid #111; padding: .5em }
tr { break-inside: avoid }
@media print { body { margin: 0; max-width: none } section + section { break-before: page } }
"""


def instructions(plan: GaugePlan) -> tuple[str, ...]:
    """How to take the readings, in the order of the work."""
    return (
        "Hold the refractometer and all vials at one temperature, within 1 C, from the first reading to the last.",
        "Just before a round: stir every brew, filter it into its vial of that round, close the vial at once and write "
        "its number on it. Somebody who does not read does this, for the readers should not know which brew is which.",
        "Zero the refractometer on water of that temperature before every round.",
        f"Finish a round, {count(len(plan.brews) * len(plan.readers), 'reading')}, within "
        f"{number(plan.limit_min, 0)} min of drawing its vials, and open a vial only to take a drop: coffee that "
        "stands grows stronger, and that would count as a difference between readers.",
        "For each reading: turn the vial over a few times, clean and dry the prism, put on a fresh drop, close the "
        "lid, wait equally long every time, read.",
        "Write down what the display shows, the sample's temperature and the time. Do not say it, and do not look at "
        "earlier readings.",
        "Keep to the order. A reading that failed stays empty; the analysis can do without it.",
    )


def fill_in_frame(plan: GaugePlan, *, instrument_id: str) -> pl.DataFrame:
    """One row per planned reading in the columns of the readings table, in the order of reading, the rest empty."""
    rows = [
        {
            "brew_id": line.brew_id,
            "instrument_id": instrument_id,
            "sample_no": line.vial,
            "reading_no": line.reading_no,
            "read_by": line.read_by,
        }
        for line in plan.readings
    ]
    return pl.DataFrame(rows, schema=SHEET_COLUMNS)


def write_gauge_sheet(plan: GaugePlan, out: Path, *, instrument_id: str) -> None:
    """Write the sheet as the file name says: csv or xlsx to fill in, html to print; never over an existing file."""
    writers = {".csv": _write_csv, ".xlsx": _write_workbook, ".html": _write_page}
    writer = writers.get(out.suffix.lower())
    if writer is None:
        raise ProblemError(f"{out} should end in .csv or .xlsx (to fill in) or .html (to print for the readers).")
    if out.exists():
        raise ProblemError(f"{out} exists already, perhaps with readings in it. Choose another name.")
    if not instrument_id.strip():
        raise ProblemError("A gauge study is of one instrument: name it as in the instruments table.")
    replace_file(out, lambda file: writer(plan, file, instrument_id))


def _write_csv(plan: GaugePlan, file: ByteFile, instrument_id: str) -> None:
    write_frame(fill_in_frame(plan, instrument_id=instrument_id), "csv", file)


def _write_workbook(plan: GaugePlan, file: ByteFile, instrument_id: str) -> None:
    """A sheet "readings" to fill in and a sheet "How to"; text stays text, so that ids keep their zeros."""
    book = xlsxwriter.Workbook(file, {"strings_to_formulas": False, "strings_to_urls": False})
    book.set_properties({"title": "Gauge study: run sheet", "created": MADE})
    sheet = book.add_worksheet("readings")
    frame = fill_in_frame(plan, instrument_id=instrument_id)
    head, text = book.add_format({"bold": True, "bottom": 1}), book.add_format({"num_format": "@"})
    fill = {"bg_color": "#fff6e5", "border": 1, "border_color": "#b0b0b0"}
    looks = {name: book.add_format(fill) for name in TO_FILL}
    looks["read_at"] = book.add_format({**fill, "num_format": "yyyy-mm-dd hh:mm"})
    for place, (name, kind) in enumerate(SHEET_COLUMNS.items()):
        sheet.write_string(0, place, name, head)
        sheet.set_column(place, place, max(len(name), 14) + 2)
        for row, value in enumerate(frame[name], start=1):
            if name in TO_FILL:
                sheet.write_blank(row, place, None, looks[name])
            elif kind == pl.String:
                sheet.write_string(row, place, str(value), text)
            else:
                sheet.write_number(row, place, value)
    sheet.freeze_panes(1, 0)
    sheet.set_landscape()
    sheet.set_paper(PAPER_A4)
    sheet.repeat_rows(0)
    sheet.ignore_errors({"number_stored_as_text": f"A1:E{frame.height + 1}"})
    _write_how_to(book, plan)
    book.close()


def _write_how_to(book: Any, plan: GaugePlan) -> None:
    sheet = book.add_worksheet("How to")
    sheet.set_column(0, 0, 100)
    wrap = book.add_format({"text_wrap": True, "valign": "top"})
    typed = (
        "This workbook names the brews: it is for whoever types. The readers get the printed page with vial numbers."
    )
    for row, line in enumerate((typed, *instructions(plan), *plan.notes, CAUTION)):
        sheet.write_string(row, 0, line, wrap)


def _write_page(plan: GaugePlan, file: ByteFile, instrument_id: str) -> None:
    """A page for the bench without scripts and without the brews' names, a round to a sheet of paper."""
    rounds = "".join(_round(plan, k + 1) for k in range(plan.repeats))
    steps = "".join(f"<li>{escaped(line)}</li>" for line in instructions(plan))
    notes = "".join(f"<p>Note: {escaped(note)}.</p>" for note in plan.notes)
    sizes = (
        f"{count(len(plan.brews), 'brew')}, {count(len(plan.readers), 'reader')}, {count(plan.repeats, 'round')}, "
        f"{count(len(plan.readings), 'reading')} on {instrument_id}"
    )
    html = (
        '<!doctype html><html lang="en"><head><meta charset="utf-8"><title>Gauge study: run sheet</title>'
        '<meta name="viewport" content="width=device-width">'
        "<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; style-src 'unsafe-inline'\">"
        f"<style>{STYLE}</style></head><body><section><h1>Gauge study: run sheet</h1><p>{escaped(sizes)}.</p>"
        f'<ol>{steps}</ol>{notes}<p class="caution"><strong>Caution.</strong> {escaped(CAUTION)}</p></section>'
        f"{rounds}</body></html>\n"
    )
    file.write(html.encode())


def _round(plan: GaugePlan, round_no: int) -> str:
    lines = [line for line in plan.readings if line.round_no == round_no]
    heads = ("No.", "Vial", "Reader", "TDS, %", "Sample, C", "Time")
    head = "".join(f'<th scope="col"{_numeric(place)}>{text}</th>' for place, text in enumerate(heads))
    return (
        f"<section><table><caption>Round {round_no} of {plan.repeats}. Vials drawn at ________ ; done within "
        f"{number(plan.limit_min, 0)} min, by ________ . Zero on water: ________</caption>"
        f"<thead><tr>{head}</tr></thead><tbody>{''.join(_row(line) for line in lines)}</tbody></table></section>"
    )


def _row(line: PlannedReading) -> str:
    cells = (line.order, line.vial, line.read_by, "", "", "")
    return "<tr>" + "".join(f"<td{_numeric(k)}>{escaped(cell)}</td>" for k, cell in enumerate(cells)) + "</tr>"


def _numeric(place: int) -> str:
    return ' class="n"' if place < 2 else ""
