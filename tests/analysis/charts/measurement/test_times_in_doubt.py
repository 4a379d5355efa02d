"""What lies in a time of doubt: readings between two checks, whole days where only the day is known."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import polars as pl

from analysis.charts.measurement.times_in_doubt import open_doubts
from analysis.measurement.calibration import Check
from analysis.measurement.doubt import Doubt
from analysis.measurement.zero_chart import Verdict

START = datetime(2026, 3, 2, tzinfo=UTC)
FAILED = Verdict(Check(START, "reference", 1.3, 1.5), False, "tolerance", -0.05, 0.05, 0)


def doubt(name="R1", *, after=2, before=4):
    ends = (None if day is None else START + timedelta(days=day) for day in (after, before))
    return Doubt(name, "%", FAILED, 1, *ends)


def readings(days, *, day_only=False, void=False, name="R1"):
    rows = [(name, void, None, day_only, START + timedelta(days=day)) for day in days]
    schema = {
        "instrument_id": pl.String, "is_void": pl.Boolean, "read_at": pl.Datetime("us", "UTC"),
        "brewed_at_is_date": pl.Boolean, "at": pl.Datetime("us", "UTC"),
    }  # fmt: skip
    return pl.DataFrame(rows, schema=schema, orient="row")


def brews(days, *, scale="S1"):
    rows = [(START + timedelta(days=day), False, scale, False) for day in days]
    schema = {
        "brewed_at": pl.Datetime("us", "UTC"), "brewed_at_is_date": pl.Boolean, "scale_id": pl.String,
        "is_void": pl.Boolean,
    }  # fmt: skip
    return pl.DataFrame(rows, schema=schema, orient="row")


def test_the_checks_themselves_bound_the_span_and_do_not_lie_in_it():
    (one,) = open_doubts([doubt()], readings([1, 2, 2.5, 3, 4, 5]), brews([]))

    assert (one.n, one.noun) == (2, "reading")


def test_an_open_span_has_no_end_and_void_brews_do_not_count():
    both = pl.concat([readings([1, 3, 9]), readings([3], void=True)])

    assert open_doubts([doubt(before=None)], both, brews([]))[0].n == 2
    assert open_doubts([doubt(after=None)], both, brews([]))[0].n == 2


def test_a_day_counts_if_any_moment_of_it_does():
    assert open_doubts([doubt(after=2.5, before=4)], readings([2], day_only=True), brews([]))[0].n == 1
    assert open_doubts([doubt(after=2.5, before=4)], readings([2]), brews([]))[0].n == 0


def test_a_weighing_scale_in_doubt_counts_the_brews_weighed_on_it():
    (one,) = open_doubts([doubt("S1")], readings([3]), brews([3, 3.5, 6]))

    assert (one.n, one.noun) == (2, "brew")
