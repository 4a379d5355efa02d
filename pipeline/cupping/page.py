"""Score sheets as a page to print: one sheet of paper for each assessor, big boxes, no script, no names of coffees."""

from __future__ import annotations

from collections.abc import Sequence

from pipeline.cupping.scales import Scale
from pipeline.cupping.sheet import CAUTIONS, ScoreSheet, ScoreSheets, instructions
from pipeline.exports import ByteFile
from pipeline.publish.markup import escaped

MOST_BOXES = 9
"""Values of a scale that are printed as boxes to tick; a finer scale gets an empty box to write in."""
STYLE = """
body { font: 15px/1.35 system-ui, sans-serif; max-width: 62em; margin: 1em auto; padding: 0 1em; color: #111;
  background: #fff }
h1 { font-size: 1.3em; margin: 0 0 .3em } ol, ul { margin: .3em 0 .6em; padding-left: 1.4em; font-size: .9em }
table { border-collapse: collapse; width: 100%; margin: 0 0 .8em }
th, td { border: 1px solid #777; padding: .3em .4em; text-align: left; overflow-wrap: anywhere }
tbody tr { height: 3em; break-inside: avoid }
td.code { font-weight: 700; font-size: 1.4em; white-space: nowrap } td.tick { font-size: .95em }
td.fill { min-width: 4em } th.scale { font-weight: 600 } th.notes { width: 20% }
.caution { border: 2px solid #111; padding: .4em .6em; font-size: .85em }
@page { size: A4 landscape; margin: 8mm }
@media print { body { margin: 0; padding: 0; max-width: none; font-size: 10pt } section + section { break-before: page }
  thead { display: table-header-group } .caution { break-inside: avoid } }
"""


def write_page(sessions: Sequence[ScoreSheets], file: ByteFile) -> None:
    """Write the page: a section for each session and assessor, each with its cautions."""
    title = "Score sheets"
    body = "".join(_section(one, sheets.caffeine) for sheets in sessions for one in sheets.sheets)
    html = (
        f'<!doctype html><html lang="en"><head><meta charset="utf-8"><title>{title}</title>'
        '<meta name="viewport" content="width=device-width">'
        "<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; style-src 'unsafe-inline'\">"
        f"<style>{STYLE}</style></head><body>{body}</body></html>\n"
    )
    file.write(html.encode())


def _section(sheet: ScoreSheet, caffeine: str) -> str:
    steps = "".join(f"<li>{escaped(line)}</li>" for line in instructions())
    meanings = "".join(
        f"<li><strong>{escaped(one.attribute)}</strong>: {escaped(one.meaning)}</li>" for one in sheet.scales
    )
    cautions = " ".join(escaped(line) for line in (*CAUTIONS, caffeine))
    heads = "".join(f'<th scope="col" class="scale">{escaped(_words(one))}</th>' for one in sheet.scales)
    rows = "".join(_row(place, code, sheet.scales) for place, code in enumerate(sheet.codes, start=1))
    return (
        f"<section><h1>{escaped(sheet.assessor)}, session {escaped(sheet.session_id)}</h1>"
        f"<p>{escaped(sheet.served)} Date ____________</p><ol>{steps}</ol>"
        f'<table><thead><tr><th scope="col">No.</th><th scope="col">Code</th>{heads}'
        '<th scope="col" class="notes">Notes</th></tr>'
        f"</thead><tbody>{rows}</tbody></table><ul>{meanings}</ul>"
        f'<p class="caution"><strong>Caution.</strong> {cautions}</p></section>'
    )


def _words(scale: Scale) -> str:
    if scale.low is None or scale.high is None:
        return scale.attribute
    return f"{scale.attribute} ({scale.low:g} to {scale.high:g})"


def _row(place: int, code: str, scales: Sequence[Scale]) -> str:
    cells = "".join(_box(scale) for scale in scales)
    return f'<tr><td>{place}</td><td class="code">{escaped(code)}</td>{cells}<td></td></tr>'


def _box(scale: Scale) -> str:
    if not scale.choices or len(scale.choices) > MOST_BOXES:
        return '<td class="fill"></td>'
    ticks = " ".join(f"&#9744;&nbsp;{value:g}" for value in scale.choices)
    return f'<td class="tick">{ticks}</td>'
