"""Drift of an instrument: slope, interval, and what cannot be told."""

import csv
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from analysis.measurement.calibration import Check
from analysis.measurement.drift import NoDrift, drift

REFERENCE = Path(__file__).parents[2] / "reference" / "calibration"
START = datetime(2026, 3, 2, 8, tzinfo=UTC)


def rows(name):
    with (REFERENCE / name).open(encoding="utf-8") as file:
        return list(csv.DictReader(file))


EXPECTED = {(row["case"], row["quantity"]): float(row["value"]) for row in rows("expected.csv")}


def check(week, reference, error, *, minutes=0):
    return Check(START + timedelta(weeks=week, minutes=minutes), "reference", reference, reference + error)


def zeros(errors, *, every=timedelta(weeks=1)):
    return [Check(START + number * every, "water_zero", 0.0, error) for number, error in enumerate(errors)]


@pytest.mark.parametrize("case", ["one bottle", "bottles in turn", "two bottles a morning"])
def test_slope_and_interval_match_r(case):
    checks = [
        check(float(row["week"]), float(row["reference"]), float(row["error"]), minutes=5 * (row["reference"] == "9.8"))
        for row in rows("drifts.csv")
        if row["case"] == case
    ]
    found = drift(checks)
    for name in ("per_week", "low", "high", "scatter"):
        assert getattr(found, name) == pytest.approx(EXPECTED[case, name], rel=1e-4)
    assert found.df == EXPECTED[case, "df"]
    assert found.n_checks == len(checks)
    assert found.per_day == pytest.approx(EXPECTED[case, "per_week"] / 7, rel=1e-4)


def test_the_order_of_rows_does_not_matter():
    checks = zeros([0.0, 0.01, 0.01, 0.03])
    assert drift(checks[::-1]) == drift(checks)


def test_equal_checks_still_have_the_display_step():
    # Sd 0.01 / sqrt(12) about a line through weeks 0..3: sum of squares 5, t(2) = 4.302653 (table).
    found = drift(zeros([0.0] * 4), resolution=0.01)
    assert found.per_week == 0.0
    assert found.high == pytest.approx(4.302653 * 0.01 / 12**0.5 / 5**0.5, rel=1e-6)
    assert not found.shown


@pytest.mark.parametrize(
    ("checks", "reason"),
    [
        ([], "there are no checks"),
        (zeros([0.01]), "one check only; it takes 3 at different times"),
        (zeros([0.0, 0.01, 0.0], every=timedelta(minutes=5)), "all 3 checks were made within an hour"),
        (zeros([0.0, 0.01]), "checks at 2 times only; a line always fits them, it takes 3"),
        (zeros([0.0] * 5), "no check scatters and no display step is stated, so that there is no interval"),
        (
            [check(week, reference, 0.01) for week, reference in enumerate([1.28, 1.30, 1.31])],
            "the reference values changed along with time, so that neither can be told apart",
        ),
    ],
)
def test_what_cannot_be_told_says_why(checks, reason):
    assert drift(checks) == NoDrift(len(checks), reason)


def test_a_new_bottle_is_no_drift():
    # Two bottles whose stated values are 0.05 apart in error, and no drift at all beside it.
    errors = [0.0, 0.01, 0.0, 0.01, 0.05, 0.06, 0.05, 0.06]
    found = drift([check(week, 1.28 if week < 4 else 1.31, error) for week, error in enumerate(errors)])
    assert found.low < 0 < found.high
    assert found.per_week < 0.01


def test_checks_of_one_morning_count_once():
    together = [
        check(week, 1.3 + 0.1 * k, error, minutes=k) for week, error in enumerate([0.0, 0.01, 0.0]) for k in (0, 1)
    ]
    alone = [check(week, 1.3, error) for week, error in enumerate([0.0, 0.01, 0.0])]
    assert drift(together).df == drift(alone).df == 1
    assert drift(together).high == pytest.approx(drift(alone).high, rel=1e-3)


def test_a_wandering_instrument_is_said_to_wander():
    steps = [0.0] * 8 + [0.05] * 8 + [0.0] * 8
    assert drift(zeros(steps), resolution=0.01).wanders
    assert not drift(zeros([0.0, 0.01] * 12), resolution=0.01).wanders
