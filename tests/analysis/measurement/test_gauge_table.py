"""Which readings make a gauge study, and what is refused."""

from __future__ import annotations

import polars as pl
import pytest

from analysis.measurement.gauge import gauge_study
from analysis.measurement.gauge_table import study_readings
from schemas.problem import ProblemError


@pytest.mark.parametrize(
    ("rows", "says"),
    [
        ([("b1", "R", 1.3), ("b1", "R", 1.3)], "at least two brews or two readers"),
        ([("b1", "R", 1.3), ("b1", "R", 1.4), ("b2", "S", 1.3), ("b2", "S", 1.4)], "S and R share no brew"),
        ([("b1", "R", 1.3), ("b2", "R", 1.4)], "nothing to judge repeatability by"),
        ([("b1", "R", 1.3), ("b2", "R", 1.4), ("b2", None, 1.3)], "needs a brew, a reader and a finite reading"),
        (
            [("b1", "R", 1.3), ("b2", "R", 1.4), ("b2", "S", float("nan"))],
            "needs a brew, a reader and a finite reading",
        ),
    ],
)
def test_what_is_no_study_is_refused_plainly(rows, says):
    with pytest.raises(ProblemError, match=says):
        gauge_study(pl.DataFrame(rows, schema=["brew_id", "operator", "tds_pct"], orient="row"))


READINGS = pl.DataFrame(
    {
        "brew_id": ["b1", "b1", "b2", "b2", "b2", "b3"],
        "instrument_id": ["r-1"] * 6,
        "tds_pct": [1.3, 1.31, 1.4, 1.41, 1.6, 1.2],
        "read_by": ["R", "S", "R", None, "S", "S"],
        "reading_scale": ["tds", None, "tds", "tds", "brix", "tds"],
        "served_as": ["black", None, "black", "black", "black", "milk"],
        "is_void": [False, False, None, False, False, False],
    }
)


def test_readings_that_do_not_fit_a_study_are_left_out_and_counted():
    chosen = study_readings(READINGS)

    assert chosen.frame.rows() == [("b1", 1.3, "R"), ("b1", 1.31, "S"), ("b2", 1.4, "R")]
    assert chosen.frame.columns == ["brew_id", "tds_pct", "operator"]
    assert chosen.left_out == (
        "1 reading without the name of who read it (read_by)",
        "1 reading in Brix",
        "1 reading on a milk drink",
    )


def test_two_instruments_need_a_choice():
    two = READINGS.with_columns(instrument_id=pl.Series(["r-1", "r-1", "r-2", "r-2", "r-2", None]))

    with pytest.raises(ProblemError, match="2 instruments \\(r-1 and r-2\\)"):
        study_readings(two)
    assert study_readings(two, instrument_id="r-1").frame.height == 2
