"""Which readings count as a gauge study, and what is drawn of it."""

from __future__ import annotations

import numpy as np
import polars as pl
import pytest
from drawn_rows import description, drawn_rows

from analysis.charts.measurement.gauge_charts import gauge_points, spread_chart, with_offsets
from analysis.charts.measurement.gauge_rows import InstrumentGauge, NoGauge, gauge_studies

INSTRUMENTS = pl.DataFrame({"instrument_id": ["R1"], "resolution": [0.01]})


def readings(study=None, *, brews=6, readers=("x", "y", "z"), repeats=2, prefix="g", instrument="R1"):
    rng = np.random.default_rng(5)
    rows = [
        (f"{prefix}{k}", instrument, study, who, 1.2 + 0.1 * k + rng.normal(0, 0.01), False, "tds", "black")
        for k in range(brews)
        for who in readers
        for _ in range(repeats)
    ]
    names = ["brew_id", "instrument_id", "study_id", "read_by", "tds_pct", "is_void", "reading_scale", "served_as"]
    types = {"study_id": pl.String, "read_by": pl.String, "instrument_id": pl.String}
    return pl.DataFrame(rows, schema=names, schema_overrides=types, orient="row")


def test_no_reader_named_is_no_study_and_no_complaint():
    assert gauge_studies(readings(readers=(None,)), INSTRUMENTS) == ()


def test_a_log_that_names_one_reader_a_brew_is_no_study():
    (one,) = gauge_studies(readings(readers=("x",)), INSTRUMENTS)

    assert one == NoGauge("R1", "R1: no brew was read by two people.")


def test_a_named_study_keeps_its_readings_and_leaves_the_log_alone():
    log = readings(readers=("x",), prefix="log")
    (one,) = gauge_studies(pl.concat([readings("gs"), log]), INSTRUMENTS)

    assert isinstance(one, InstrumentGauge)
    assert (one.title, one.study.n_brews, one.study.n_readings) == ("R1, study gs", 6, 36)
    assert one.left_out == ()


def test_without_a_study_brews_that_one_person_read_stay_out_and_are_counted():
    log = readings(readers=("x",), prefix="log", brews=4)
    (one,) = gauge_studies(pl.concat([readings(), log]), INSTRUMENTS)

    assert one.study.n_brews == 6
    assert one.left_out == ("4 brews that one person alone read",)


def test_a_study_that_says_nothing_is_refused_in_words():
    (one,) = gauge_studies(readings("gs", brews=2, readers=("x", "y"), repeats=1).head(3), INSTRUMENTS)

    assert isinstance(one, NoGauge)
    assert "R1, study gs:" in one.reason
    assert "Read every brew again" in one.reason


def test_every_reading_is_drawn_less_the_mean_of_its_brew():
    frame = readings("gs").select("brew_id", "tds_pct", operator="read_by")
    chart = gauge_points(frame, "R1")

    assert len(drawn_rows(chart)["points"]) == 36
    assert with_offsets(frame).group_by("brew_id").agg(pl.col("off_pct").sum())["off_pct"].to_list() == pytest.approx(
        [0.0] * 6, abs=1e-12
    )
    assert "36 readings of 6 brews by 3 readers" in description(chart)


def test_parts_of_the_spread_are_drawn_with_their_intervals():
    (one,) = gauge_studies(readings("gs"), INSTRUMENTS)
    drawn = {row["name"]: row for row in drawn_rows(spread_chart(one.study, "R1"))["intervals"]}

    assert "Brew to brew" in drawn
    assert "Gauge" not in drawn  # a sum of others stands in the table
    for row in drawn.values():
        assert row["low"] <= row["sd"] <= row["high"]
