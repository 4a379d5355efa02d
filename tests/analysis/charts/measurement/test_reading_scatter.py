"""Scatter of readings within brews: pooled by hand, intervals by chi-square, odd ones named."""

from __future__ import annotations

import math

import numpy as np
import polars as pl
import pytest
from drawn_rows import drawn_rows

from analysis.charts.measurement.reading_scatter import (
    MOST_POINTS,
    reading_scatters,
    scatter_chart,
    scatter_words,
    sd_interval,
)


def readings(groups, *, instrument="R1", method="moka", void=(), readers=(None,)):
    return pl.DataFrame(
        [
            (k, f"b{k}", instrument, method, k in void, 1, n + 1, readers[n % len(readers)], value)
            for k, group in enumerate(groups)
            for n, value in enumerate(group)
        ],
        schema={
            "brew": pl.Int64, "brew_id": pl.String, "instrument_id": pl.String, "method": pl.String,
            "is_void": pl.Boolean, "sample_no": pl.Int64, "reading_no": pl.Int64, "read_by": pl.String,
            "strength_pct": pl.Float64,
        },
        orient="row",
    )  # fmt: skip


def test_the_standard_deviation_is_pooled_within_brews():
    (one,) = reading_scatters(readings([(1.0, 1.2), (2.0, 2.1, 2.2), (3.0,), (9.0, 1.0)], void={3}))

    # 0.02 with one and 0.02 with two degrees of freedom
    assert one.sd == pytest.approx(math.sqrt(0.04 / 3))
    assert (one.df, one.n_brews, one.n_repeated) == (3, 3, 2)


def test_its_interval_is_that_of_a_variance():
    # Chi-square quantiles with 10 degrees of freedom as printed in tables: 3.247 and 20.483.
    low, high = sd_interval(2.0, 10)

    assert low == pytest.approx(2 * math.sqrt(10 / 20.483), rel=1e-4)
    assert high == pytest.approx(2 * math.sqrt(10 / 3.247), rel=1e-4)


def test_a_repeat_is_the_same_reader_again():
    (one,) = reading_scatters(readings([(1.0, 2.0, 1.2, 2.1)], readers=("Ines", "Jonas")))

    # Ines 0.02 and Jonas 0.005 about their own means, one degree of freedom each; a reading of each alone says nothing.
    assert (one.sd, one.df, one.n_repeated) == (pytest.approx(math.sqrt(0.025 / 2)), 2, 1)
    assert reading_scatters(readings([(1.0, 2.0)], readers=("Ines", "Jonas")))[0].sd is None


def test_a_reading_far_from_its_brews_mean_is_odd():
    calm = [(1.0 + k / 100, 1.01 + k / 100) for k in range(20)]
    (one,) = reading_scatters(readings([*calm, (1.3, 1.3, 1.4)]))

    assert one.odd.select("brew_id", "reading_no").rows() == [("b20", 3)]
    assert one.odd["off_pct"][0] == pytest.approx(2 / 30)


def test_brews_with_odd_readings_are_named_with_how_far_these_lie_apart():
    calm = [(1.0 + k / 100, 1.01 + k / 100) for k in range(20)]
    (one,) = reading_scatters(readings([*calm, (1.0, 1.4), (1.0, 1.3)]))

    assert one.odd_brews.rows() == [("b20", pytest.approx(0.4))]


def test_very_many_sound_readings_raise_no_alarm():
    rng = np.random.default_rng(20260504)
    (one,) = reading_scatters(readings(rng.normal(1.3, 0.01, (20_000, 2)).tolist()))

    assert one.odd.is_empty()


def test_equal_repeats_are_no_cause_for_alarm():
    (one,) = reading_scatters(readings([(1.0, 1.0), (1.2, 1.2)]))

    assert one.sd == 0
    assert one.odd.is_empty()
    assert "0.000 %" in scatter_words(one)


def test_a_nameless_instrument_stands_by_itself_and_says_that_nothing_repeats():
    both = pl.concat([readings([(1.0,), (1.1,)], instrument=None), readings([(1.0, 1.1)])])
    named, nameless = reading_scatters(both)

    assert (named.instrument, nameless.instrument) == ("R1", "")
    assert nameless.title == "Unnamed instrument: moka"
    assert scatter_words(nameless) == "no brew was read twice"


def test_the_chart_draws_every_reading_and_of_very_many_a_part_with_every_odd_one():
    calm = [(1.0, 1.01)] * 1000
    (few,) = reading_scatters(readings(calm[:6]))
    (many,) = reading_scatters(readings([*calm, (1.0, 2.0)]))

    of_many = drawn_rows(scatter_chart(many))["points"]
    assert len(drawn_rows(scatter_chart(few))["points"]) == 12
    assert MOST_POINTS <= len(of_many) <= MOST_POINTS + 2
    assert sum(row["odd"] for row in of_many) == 2
