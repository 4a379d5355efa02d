"""The run sheet as a page to print: big rows for wet hands, a session to a sheet of paper, no script."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby

from analysis.planning.sheet import SheetRow
from analysis.words import count, method_word
from pipeline.exports import ByteFile
from pipeline.publish.markup import escaped
from pipeline.run_sheet.sheet import CAUTIONS, RunSheet, instructions
from schemas.columns import COLUMNS

WORDS = {
    "brewed_at": "Time",
    "dose_g": "Dose, g",
    "water_g": "Water, g",
    "beverage_g": "Cup, g",
    "tds_pct": "TDS, %",
    "channeling": "Channeling",
}
BOXES = " ".join(f"&#9744;&nbsp;{word}" for word in COLUMNS["channeling"].choices)
STYLE = """
body { font: 15px/1.35 system-ui, sans-serif; max-width: 62em; margin: 1em auto; padding: 0 1em; color: #111;
  background: #fff }
h1 { font-size: 1.3em; margin: 0 0 .3em } ol { margin: .3em 0 .6em; padding-left: 1.4em }
table { border-collapse: collapse; width: 100%; margin: 0 0 1em }
caption { text-align: left; font-weight: 600; padding: .3em 0 }
th, td { border: 1px solid #777; padding: .3em .5em; text-align: left }
tbody tr { height: 2.2em; break-inside: avoid }
td.set { font-weight: 600; font-size: 1.1em; white-space: nowrap } td.box { font-size: .85em }
td.fill { min-width: 4.2em }
tr.purge { height: 1.3em }
tr.purge td { background: #eee; font-style: italic; font-size: .85em; padding: .05em .5em }
.caution { border: 2px solid #111; padding: .4em .6em; margin: 0 0 .6em }
@page { size: A4 landscape; margin: 8mm }
@media print { body { margin: 0; padding: 0; max-width: none; font-size: 10pt; color-adjust: exact;
  print-color-adjust: exact } section + section { break-before: page }
  div.how { break-inside: avoid; font-size: .85em } thead { display: table-header-group } }
"""


def write_page(sheet: RunSheet, file: ByteFile) -> None:
    """Write the page: how to, cautions, then a table for each session."""
    steps = "".join(f"<li>{escaped(line)}</li>" for line in instructions(sheet))
    cautions = " ".join(escaped(line) for line in CAUTIONS)
    notes = "".join(f"<p>{escaped(note)}</p>" for note in sheet.notes)
    sessions = [list(rows) for _, rows in groupby(sheet.rows, key=lambda row: row.cells["session_id"])]
    tables = "".join(
        f"<section>{_table(sheet, rows, number, len(sessions))}</section>" for number, rows in enumerate(sessions, 1)
    )
    html = (
        f'<!doctype html><html lang="en"><head><meta charset="utf-8"><title>{escaped(sheet.title)}</title>'
        '<meta name="viewport" content="width=device-width">'
        "<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; style-src 'unsafe-inline'\">"
        f"<style>{STYLE}</style></head><body><h1>{escaped(sheet.title)}, {escaped(method_word(sheet.method))}</h1>"
        f'<p class="caution"><strong>Caution.</strong> {cautions}</p>{tables}<div class="how"><ol>{steps}</ol>{notes}'
        f"<p>Seed {sheet.seed}.</p></div></body></html>\n"
    )
    file.write(html.encode())


def _table(sheet: RunSheet, rows: Sequence[SheetRow], number: int, n_sessions: int) -> str:
    brews = sum(not row.purge for row in rows)
    heads = ["No.", "Coffee", *(_with_unit(word, unit) for _, word, unit in sheet.asked)]
    heads += [*(WORDS[name] for name in sheet.typed), "Notes"]
    head = "".join(f'<th scope="col">{escaped(text)}</th>' for text in heads)
    body = "".join(_purge(row, len(heads)) if row.purge else _brew(sheet, row) for row in rows)
    who = "Date ____________  Brewed by ____________  Zero on water ______"
    caption = f"Session {number} of {n_sessions}, {count(brews, 'brew')}. {who}"
    return f"<table><caption>{escaped(caption)}</caption><thead><tr>{head}</tr></thead><tbody>{body}</tbody></table>"


def _with_unit(word: str, unit: str) -> str:
    return f"{word}, {unit}" if unit else word


def _brew(sheet: RunSheet, row: SheetRow) -> str:
    short = str(row.cells["brew_id"]).removeprefix(f"{sheet.study_id}-")
    cells = [f"<td>{escaped(short)}</td><td>{escaped(row.cells['coffee_id'])}</td>"]
    cells += [f'<td class="set">{escaped(_shown(row.cells.get(name)))}</td>' for name, _, _ in sheet.asked]
    cells += [
        '<td class="fill"></td>' if name != "channeling" else f'<td class="box">{BOXES}</td>' for name in sheet.typed
    ]
    return f"<tr>{''.join(cells)}<td></td></tr>"


def _purge(row: SheetRow, width: int) -> str:
    grind = row.cells.get("planned_grind_setting")
    what = f"Purge: {row.cells['coffee_id']}, grind {grind}. Throw it away, write nothing."
    return f'<tr class="purge"><td colspan="{width}">{escaped(what)}</td></tr>'


def _shown(value: object) -> str:
    return f"{value:g}" if isinstance(value, float) else "" if value is None else str(value)
