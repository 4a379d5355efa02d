"""Brews that rest on an instrument between its last passed and its next passed check."""

from datetime import UTC, datetime, timedelta

import polars as pl
import pytest

from analysis.facts.derive import derive_facts
from analysis.facts.flags.find import find_flags
from analysis.measurement.calibration import Check, InstrumentChecks
from analysis.measurement.doubt import all_doubts
from schemas.lab import CheckLimits, LabSettings
from schemas.reports import FLAG_COLUMNS
from tests.analysis.facts.conftest import TARGET_SCHEMA, as_frame, parts

LAB = LabSettings(
    timezone="Europe/Vienna",
    checks=CheckLimits(zero_tolerance=0.02, reference_tolerance=0.03),
    instrument_checks={"S1": CheckLimits(reference_tolerance=0.2)},
)
PASSED, FAILED, NEXT = (datetime(2026, 3, day, 7, 0, tzinfo=UTC) for day in (2, 9, 16))


def zeros(*observed, on="R1"):
    times = (PASSED, FAILED, NEXT)
    checks = tuple(Check(at, "water_zero", 0.0, seen) for at, seen in zip(times, observed, strict=False))
    return InstrumentChecks(on, "refractometer", "%", 0.01, checks)


BAD_ZERO = zeros(0.0, 0.05, 0.01)


def doubtful(brews, readings=None, instruments=(BAD_ZERO,), settings=LAB):
    joined, read = parts(brews, readings)
    facts = derive_facts(joined, read, as_frame([], TARGET_SCHEMA), settings=settings)
    found = find_flags(facts, joined, read, settings=settings, doubts=all_doubts(instruments, settings))
    return found.filter(pl.col("rule") == "reading_in_doubt")


def brew(at, **more):
    return {"brewed_at": at, "tds": [9.0], "on": "R1"} | more


MINUTE = timedelta(minutes=1)


@pytest.mark.parametrize(
    ("brewed_at", "flagged"),
    [
        (PASSED, False),
        (PASSED + MINUTE, True),
        (FAILED, True),
        (NEXT - MINUTE, True),
        (NEXT, False),
        (NEXT + MINUTE, False),
    ],
)
def test_from_the_last_passed_check_to_the_next(brewed_at, flagged):
    assert doubtful([brew(brewed_at)])["brew_id"].to_list() == (["b1"] if flagged else [])


def test_the_flag_names_instrument_check_date_and_value():
    found = doubtful([brew(FAILED, tds=[9.0, 9.1])])
    assert tuple(found.columns) == FLAG_COLUMNS
    flag = found.row(0, named=True)
    assert (flag["table"], flag["column"], flag["value"], flag["line"]) == ("readings", "tds_pct", "9", 2)
    assert flag["message"] == (
        "R1 failed its zero check on 9 March 2026 08:00: it read 0.05 % where 0.00 % was due, and 0.02 % either way is "
        "allowed; from 2 March 2026 08:00 "
        "until 16 March 2026 08:00, what it reads is in doubt (2 readings of this brew)."
    )


def test_a_readings_own_time_goes_before_its_brews():
    late = {"brew_id": "b1", "instrument_id": "R1", "reading_no": 2, "tds_pct": 9.2, "read_at": NEXT + MINUTE}
    assert doubtful([{"brewed_at": FAILED}], [late]).is_empty()
    found = doubtful([{"brewed_at": NEXT + MINUTE}], [late | {"read_at": FAILED}, late | {"reading_no": 3}])
    assert found["value"].to_list() == ["9.2"]
    assert "of this brew" not in found["message"][0]


@pytest.mark.parametrize(("day", "flagged"), [(1, False), (2, True), (9, True), (16, True), (17, False)])
def test_where_only_the_day_is_known_any_hour_of_it_counts(day, flagged):
    # A day without a time is kept as local midnight: 23:00 UTC of the day before in Vienna's winter.
    midnight = datetime(2026, 3, day, tzinfo=UTC) - timedelta(hours=1)
    assert doubtful([brew(midnight, brewed_at_is_date=True)]).is_empty() is not flagged


def test_other_instruments_void_brews_and_good_checks_are_left_alone():
    assert doubtful([brew(FAILED, on="R2"), brew(FAILED, on=None), brew(FAILED, void_reason="spilt")]).is_empty()
    assert doubtful([brew(FAILED)], instruments=[zeros(0.0, 0.02, 0.01)]).is_empty()
    assert doubtful([brew(FAILED)], instruments=[zeros()]).is_empty()
    assert doubtful([brew(FAILED)], instruments=[]).is_empty()


def test_without_a_later_pass_every_brew_after_is_in_doubt():
    found = doubtful([brew(PASSED - MINUTE), brew(FAILED + 400 * timedelta(days=1))], instruments=[zeros(0.0, 0.05)])
    assert found["brew_id"].to_list() == ["b2"]
    assert "from 2 March 2026 08:00 until a check passes" in found["message"][0]


def test_a_scale_in_doubt_flags_the_brews_weighed_on_it():
    masses = [(PASSED, 200.0), (FAILED, 201.0), (NEXT, 200.1)]
    scale = InstrumentChecks("S1", "scale", "g", 0.1, tuple(Check(at, "reference", 200.0, seen) for at, seen in masses))
    found = doubtful([brew(FAILED, scale_id="S1"), brew(NEXT, scale_id="S1")], instruments=[scale])
    flag = found.row(0, named=True)
    assert found.height == 1
    assert (flag["table"], flag["column"], flag["value"], flag["brew_id"]) == ("brews", "scale_id", "S1", "b1")
    assert (
        "S1 failed its reference check on 9 March 2026 08:00: it read 201.00 g where 200.00 g was due"
        in flag["message"]
    )


def test_a_zero_and_a_reference_that_both_failed_are_two_flags():
    both = InstrumentChecks(
        "R1", "refractometer", "%", 0.01, (*BAD_ZERO.checks, Check(FAILED, "reference", 1.3, 1.4))
    )  # fmt: skip
    assert doubtful([brew(FAILED)], instruments=[both]).height == 2
