"""Agreement drawn: bands and limits as found, the line inside the data only, odd brews named."""

from __future__ import annotations

import numpy as np
import polars as pl
import pytest
from drawn_rows import drawn_rows

from analysis.charts.measurement.agreement_charts import against_chart, difference_chart, line_words, outside_limits
from analysis.charts.measurement.grammar import short
from analysis.measurement.agreement import compare_instruments

STATED = pl.DataFrame({"instrument_id": ["A", "B"], "resolution": [0.01, 0.01], "standard_uncertainty": [0.02, 0.02]})


def found(n=20, *, far=None):
    rng = np.random.default_rng(11)
    true = np.linspace(1.0, 2.0, n)
    readings = {"A": true + rng.normal(0, 0.01, n), "B": 0.05 + true + rng.normal(0, 0.01, n)}
    if far is not None:
        readings["B"][far] += 0.5
    frame = pl.DataFrame(
        [(f"b{k:02}", name, 1, values[k]) for name, values in readings.items() for k in range(n)],
        schema=["brew_id", "instrument_id", "sample_no", "strength_pct"],
        orient="row",
    ).with_columns(is_void=pl.lit(False))
    return compare_instruments(frame, STATED, "A", "B"), readings


def test_every_brew_is_a_point_at_its_gap_and_mean():
    agreement, readings = found()
    drawn = drawn_rows(difference_chart(agreement))["points"]

    assert [row["gap"] for row in drawn] == pytest.approx(list(readings["B"] - readings["A"]))
    assert [row["mean"] for row in drawn] == pytest.approx(list((readings["B"] + readings["A"]) / 2))


def test_bias_and_limits_stand_with_their_intervals():
    agreement, readings = found()
    drawn = drawn_rows(difference_chart(agreement))

    gaps = readings["B"] - readings["A"]
    half = 2.093024 * gaps.std(ddof=1) / np.sqrt(20)  # t(19), two-sided 95 %, from tables
    bias = next(row for row in drawn["intervals"] if row["words"].startswith("bias"))
    assert drawn["bias"] == [{"at": pytest.approx(gaps.mean())}]
    assert (bias["low"], bias["high"]) == pytest.approx((gaps.mean() - half, gaps.mean() + half), rel=1e-5)
    assert len(drawn["limits"]) == 2
    assert len(drawn["intervals"]) == 3


def test_the_line_ends_where_the_brews_end():
    agreement, readings = found()
    (low, high) = drawn_rows(against_chart(agreement))["deming"]

    assert (low["a"], high["a"]) == pytest.approx((readings["A"].min(), readings["A"].max()))
    assert "slope" in line_words(agreement)
    assert "20 brews" in line_words(agreement)


def test_three_brews_have_limits_but_no_line():
    agreement, _ = found(3)
    drawn = drawn_rows(against_chart(agreement))

    assert "deming" not in drawn
    assert len(drawn["points"]) == 3
    assert line_words(agreement) == "No line: 3 brews; a slope takes 5."


def test_a_brew_far_beyond_the_limits_is_named_and_coloured():
    agreement, _ = found(60, far=7)
    drawn = drawn_rows(difference_chart(agreement))["points"]

    assert outside_limits(agreement) == ["b07"]
    assert [row["odd"] for row in drawn].count(True) == 1


def test_long_names_are_cut_beside_an_axis():
    assert len(short("The refractometer by the window on the second shelf")) <= 22
