from __future__ import annotations

from pathlib import Path

import polars as pl
import pytest

from tests.reference.difference_tests.coverage import RUNS, TOLD, Case, count

TABLE = Path(__file__).parents[3] / "reference" / "difference_tests" / "coverage.csv"


@pytest.mark.slow
@pytest.mark.parametrize("case", TOLD, ids=lambda case: case.unlike)
def test_intervals_of_unlike_palates_hold_the_truth(case: Case) -> None:
    """95 %, less two standard errors of 2,000 runs; and the committed table is what is counted."""
    counted = count(case)
    committed = pl.read_csv(TABLE).row(TOLD.index(case), named=True)

    assert counted == committed
    assert counted["general"] >= 0.94 * RUNS
    assert counted["own"] >= 0.94 * RUNS


def test_the_whole_table_keeps_what_is_promised() -> None:
    table = pl.read_csv(TABLE)
    repeated_unlike = table.filter(pl.col("unlike") == "beta 0.4")

    assert table.height == 38
    assert table["general"].min() >= 0.94 * RUNS
    assert table["one_sided"].min() >= 0.94 * RUNS
    assert table["own"].min() >= 0.94 * RUNS
    # What repeats do to the plain binomial, which is why it is not used for palates in general.
    assert repeated_unlike["plain"].min() < 0.7 * RUNS
    assert table["lean_called"].max() <= 0.06 * RUNS
