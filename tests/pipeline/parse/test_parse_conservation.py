from __future__ import annotations

from collections import Counter

import polars as pl
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.parse.interpret import interpret
from pipeline.parse.mapping import Mapping, Section
from pipeline.parse.model import Interpretation
from pipeline.parse.rows import parse_batch
from pipeline.sources.model import RawSheet
from schemas.lab import LabSettings

CELLS = {
    "Date": ["2026-04-03", "3.4.2026", "25.4.2026 9:15", "4/25/2026", "2026-03-29 02:30", "x", None],
    "Time of day": ["9:15", "29:15", None],
    "Coffee": ["Huila", "Sidra", None],
    "Method": ["espresso", "Pour over", "other", "siphon", None],
    "Dose (g)": ["18", "18,1", "18.2", "1.234,5", "0", "-1", "inf", "abc", None],
    "Yield out": ["36", "36,5", "1,234", None],
    "Brew time (mm:ss)": ["0:28", "28", "0:28:00", None],
    "Water temp °F": ["200", "500", None],
    "TDS 1": ["9.5", "9,5", "99", "0", "-", None],
    "TDS 2": ["9.6", "NaN", None],
    "Discarded": ["yes", "maybe", None],
    "void_reason": ["mixed up", None, None],
    "Weather": ["fine", None],
}
DECLARED = Section(constants={"operator": "Mo"}, missing=("-",))


@st.composite
def sheets(draw: st.DrawFn) -> RawSheet:
    needed = ["Date", "Coffee", "Method", "Dose (g)"]
    others = draw(st.lists(st.sampled_from([name for name in CELLS if name not in needed]), unique=True))
    header = draw(st.permutations(needed + others))
    row = st.tuples(*(st.sampled_from(CELLS[name]) for name in header))
    rows = draw(st.lists(row, min_size=1, max_size=12))
    schema = {"line": pl.Int64(), **{f"c{place}": pl.String() for place in range(len(header))}}
    frame = pl.DataFrame([(line, *cells) for line, cells in enumerate(rows, start=2)], schema=schema, orient="row")
    cut = draw(st.integers(0, len(rows)))
    batches = [part for part in (frame[:cut], frame[cut:]) if part.height]
    return RawSheet("log.csv", "", tuple(header), lambda: iter(batches), len(rows), 0)


@settings(max_examples=60, deadline=None)
@given(sheets())
def test_every_row_is_either_taken_or_has_a_reason(sheet: RawSheet) -> None:
    how = interpret(sheet, Mapping(general=DECLARED), LabSettings(timezone="Europe/Berlin"), table="brews")
    assert isinstance(how, Interpretation)
    for batch in sheet.batches():
        parsed = parse_batch(batch, how)
        taken, aside = parsed.rows["line"].to_list(), set(parsed.reasons["line"])
        assert Counter([*taken, *aside]) == Counter(batch["line"].to_list())
        assert set(parsed.readings["line"]) <= set(taken)
        assert parsed.reasons.select("column", "rule", "message", "fix").null_count().row(0) == (0, 0, 0, 0)


@settings(max_examples=40, deadline=None)
@given(st.lists(st.tuples(*[st.sampled_from(["1.5", "0", "x", "-", None])] * 3), min_size=1, max_size=8))
def test_every_row_of_scores_is_either_taken_or_has_a_reason(cells: list[tuple[str | None, ...]]) -> None:
    header = ("session_id", "blind_code", "assessor", "sweet", "bitter", "sour")
    rows = [(line, "s", str(line), "a", *row) for line, row in enumerate(cells, start=2)]
    schema = {"line": pl.Int64(), **{f"c{place}": pl.String() for place in range(len(header))}}
    frame = pl.DataFrame(rows, schema=schema, orient="row")
    sheet = RawSheet("panel.csv", "", header, lambda: iter((frame,)), len(rows), 0)
    attributes = {name: name for name in header[3:]}
    how = interpret(sheet, Mapping(Section(attributes=attributes, missing=("-",))), LabSettings())
    assert isinstance(how, Interpretation)
    parsed = parse_batch(frame, how)
    taken, aside = set(parsed.rows["line"]), set(parsed.reasons["line"])
    assert taken | aside == set(frame["line"])
    assert not taken & aside
    filled = sum(cell in ("1.5", "0") for row in cells if "x" not in row for cell in row)
    assert parsed.rows.height == filled
    empty = sum(cell in ("-", None) for row in cells if set(row) - {"-", None} for cell in row)
    assert parsed.counts.get("empty scores passed over", 0) == empty
