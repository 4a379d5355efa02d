"""Each reader against the others, by hand."""

from __future__ import annotations

import polars as pl
import pytest

from analysis.measurement.reader_gaps import reader_gaps


def frame(**readers):
    rows = [
        (f"b{k}", reader, value)
        for reader, values in readers.items()
        for k, value in enumerate(values)
        if value is not None
    ]
    return pl.DataFrame(rows, schema=["brew_id", "operator", "tds_pct"], orient="row")


# Gaps of x to the mean of y and z, brew by brew: 0.02, 0.03, 0.04, 0.03 (mean 0.03, s = 0.0081650).
# Student's t, 97.5 %, 3 degrees of freedom: 3.182446; half width 3.182446 x 0.0081650 / 2 = 0.012992.
X, Y, Z = (1.22, 1.33, 1.44, 1.53), (1.21, 1.31, 1.40, 1.49), (1.19, 1.29, 1.40, 1.51)


def test_a_reader_against_the_mean_of_the_others():
    high = reader_gaps(frame(x=X, y=Y, z=Z))[0]

    assert (high.reader, high.n_brews) == ("x", 4)
    assert high.gap_pct == pytest.approx(0.03)
    assert (high.low_pct, high.high_pct) == pytest.approx((0.03 - 0.012992, 0.03 + 0.012992), abs=1e-6)
    assert high.sentence == (
        "x reads 0.030 % TDS higher than the other readers on average (95 % interval +0.017 to +0.043; 4 brews)."
    )


def test_an_interval_with_nought_in_it_shows_no_gap():
    said = {one.reader: one.sentence for one in reader_gaps(frame(x=(1.2, 1.3, 1.4), y=(1.21, 1.29, 1.4), z=Z[:3]))}

    assert said["x"].startswith("x: no gap shown to the other readers, ")


def test_a_missing_cell_takes_that_brew_from_its_reader_alone():
    gaps = {one.reader: one for one in reader_gaps(frame(x=(*X[:3], None), y=Y, z=Z))}

    assert gaps["x"].n_brews == 3
    assert gaps["x"].gap_pct == pytest.approx(0.03)
    assert gaps["y"].n_brews == 4


def test_of_two_readers_one_says_it_all_and_one_reader_or_few_brews_say_nothing():
    assert [one.reader for one in reader_gaps(frame(x=X, y=Y))] == ["x"]
    assert reader_gaps(frame(x=X)) == ()
    assert reader_gaps(frame(x=X[:2], y=Y[:2], z=Z[:2])) == ()
