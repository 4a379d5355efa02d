"""Checks over time: the least-squares line of drift, doubt shaded from check to check, days as in the lab."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from itertools import pairwise

import numpy as np
import polars as pl
import pytest
from drawn_rows import drawn_rows

from analysis.charts.measurement.checks_over_time import check_chart, check_series, series_words
from analysis.charts.measurement.grammar import DAY_MS, local_ms, time_axis
from analysis.measurement.instrument_record import instrument_records
from schemas.lab import CheckLimits, LabSettings

START = datetime(2026, 3, 2, 7, 30, tzinfo=UTC)
ERRORS = (0.0, 0.01, 0.0, 0.02, 0.01, 0.02, 0.03, 0.02, 0.03, 0.04)
INSTRUMENTS = pl.DataFrame(
    {"instrument_id": ["R1"], "kind": ["refractometer"], "resolution": [0.01], "unit": ["%"]},
)
NO_READINGS = pl.DataFrame(
    schema={"instrument_id": pl.String, "brew_id": pl.String, "sample_no": pl.Int64, "tds_pct": pl.Float64}
)


def record(errors=ERRORS, *, tolerance=None, kind="reference", reference=1.3):
    checks = pl.DataFrame(
        [("R1", START + timedelta(weeks=k), kind, reference, reference + error) for k, error in enumerate(errors)],
        schema=["instrument_id", "checked_at", "check_kind", "reference_value", "observed_value"],
        orient="row",
    )
    settings = LabSettings(checks=CheckLimits(reference_tolerance=tolerance))
    (found,) = instrument_records(checks, INSTRUMENTS, NO_READINGS, settings=settings)
    return found


def layers(found, **more):
    (one,) = check_series(found)
    return drawn_rows(check_chart(one, found.doubts, unit="%", timezone="Europe/Vienna", **more))


def test_one_check_has_an_error_and_no_range_of_errors():
    checks, *_ = check_series(record([0.15], tolerance=0.06))

    assert series_words(checks, "%").startswith("1 check, error +0.150 %;")


def test_the_drift_line_is_the_least_squares_line_between_first_and_last_check():
    drawn = layers(record())["drift"]

    weeks = np.arange(len(ERRORS))
    slope, intercept = np.polyfit(weeks, ERRORS, 1)
    assert [row["error"] for row in drawn] == pytest.approx([intercept, intercept + slope * weeks[-1]])
    assert drawn[1]["at"] - drawn[0]["at"] == 9 * 7 * DAY_MS + 60 * 60 * 1000  # clocks go forward in between


def test_times_are_those_of_the_labs_wall_clock():
    assert local_ms(START, "Europe/Vienna") == local_ms(START, "UTC") + 60 * 60 * 1000
    assert local_ms(START, "UTC") == int(START.timestamp() * 1000)


def test_doubt_is_shaded_from_the_last_passed_check_to_the_next():
    found = record((0.0, 0.0, 0.2, 0.0, 0.0), tolerance=0.05)
    (shade,) = layers(found)["doubt"]

    assert (shade["at"], shade["end"]) == tuple(
        local_ms(START + timedelta(weeks=week), "Europe/Vienna") for week in (1, 3)
    )
    assert [row["odd"] for row in layers(found)["points"]] == [False, False, True, False, False]


def test_an_open_doubt_reaches_to_the_last_reading():
    found = record((0.0, 0.0, 0.2), tolerance=0.05)
    last = START + timedelta(weeks=20)
    drawn = layers(found, last=last)

    (shade,) = drawn["doubt"]
    assert shade["end"] >= local_ms(last, "Europe/Vienna")


def test_limits_and_counts_are_said_and_drawn():
    found = record((0.0, 0.01, 0.2), tolerance=0.05)
    (one,) = check_series(found)

    assert series_words(one, "%") == (
        "3 checks, errors 0.000 to +0.200 %; limits -0.050 to +0.050 by lab.toml; 1 outside."
    )
    assert [row["at"] for row in layers(found)["limits"]] == [-0.05, 0.05]
    assert one.title == "R1: against 1.30 %"


def test_too_few_checks_have_no_limits_and_stay_hollow():
    drawn = layers(record((0.0, 0.01)))

    assert "limits" not in drawn
    assert "doubt" not in drawn
    assert all(row["hollow"] for row in drawn["points"])
    assert "nothing decides whether they passed" in series_words(check_series(record((0.0, 0.01)))[0], "%")


@pytest.mark.parametrize(("days", "step"), [(3, 1), (40, 7), (90, 14), (400, 91), (4000, 1820)])
def test_ticks_of_time_stand_at_even_steps_of_days(days, step):
    values = time_axis("at:Q", 0, days * DAY_MS).to_dict()["axis"]["values"]

    assert len(values) <= 8
    assert {b - a for a, b in pairwise(values)} == {step * DAY_MS}
