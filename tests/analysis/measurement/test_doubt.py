"""Spans in which an instrument cannot be relied on."""

from datetime import UTC, datetime, timedelta

from analysis.measurement.calibration import Check, InstrumentChecks
from analysis.measurement.doubt import doubts
from schemas.lab import CheckLimits, LabSettings

START = datetime(2026, 3, 2, 8, tzinfo=UTC)
LAB = LabSettings(checks=CheckLimits(zero_tolerance=0.02, reference_tolerance=0.03))


def at(day, hour=0):
    return START + timedelta(days=day, hours=hour)


def spans(*checks, settings=LAB, kind="refractometer"):
    ordered = tuple(sorted(checks, key=lambda check: check.checked_at))
    found = doubts(InstrumentChecks("R1", kind, "%", 0.01, ordered), settings)
    return [(span.after, span.before, span.failed.check.observed, span.failures) for span in found]


def zero(day, observed, hour=0):
    return Check(at(day, hour), "water_zero", 0.0, observed)


def reference(day, observed, due=1.3, hour=0):
    return Check(at(day, hour), "reference", due, observed)


def test_from_the_last_passed_to_the_next_passed_check():
    assert spans(zero(0, 0.0), zero(7, 0.01), zero(14, 0.05), zero(21, 0.0)) == [(at(7), at(21), 0.05, 1)]


def test_failures_in_a_row_are_one_span_named_after_the_first():
    assert spans(zero(0, 0.0), zero(7, 0.04), zero(14, -0.06), zero(21, 0.0)) == [(at(0), at(21), 0.04, 2)]


def test_two_failures_with_a_pass_between_are_two_spans():
    found = spans(zero(0, 0.0), zero(7, 0.05), zero(14, 0.0), zero(21, 0.05), zero(28, 0.0))
    assert found == [(at(0), at(14), 0.05, 1), (at(14), at(28), 0.05, 1)]


def test_open_at_either_end_where_no_check_passed():
    assert spans(zero(7, 0.05)) == [(None, None, 0.05, 1)]
    assert spans(zero(7, 0.05), zero(8, 0.0)) == [(None, at(8), 0.05, 1)]
    assert spans(zero(0, 0.0), zero(7, 0.05)) == [(at(0), None, 0.05, 1)]


def test_zeroed_again_and_passed_the_same_morning():
    assert spans(zero(0, 0.0), zero(7, 0.05), zero(7, 0.0, hour=1)) == [(at(0), at(7, 1), 0.05, 1)]


def test_a_passed_reference_does_not_answer_a_failed_zero():
    found = spans(zero(0, 0.0), zero(7, 0.05), reference(7, 1.3), reference(14, 1.3), zero(21, 0.0))
    assert found == [(at(0), at(21), 0.05, 1)]


def test_nor_a_weak_reference_a_strong_one_but_a_new_bottle_does():
    found = spans(
        reference(0, 1.3), reference(0, 9.8, due=9.8), reference(7, 9.9, due=9.8), reference(7, 1.3),
        reference(14, 1.3), reference(21, 9.61, due=9.6),
    )  # fmt: skip
    assert found == [(at(0), at(21), 9.9, 1)]


def test_checks_without_a_verdict_open_and_close_nothing():
    assert spans(zero(0, 0.0), zero(7, 0.5), zero(14, 0.0), settings=LabSettings()) == []


def test_an_instrument_of_another_kind_needs_its_own_tolerance():
    checks = (reference(0, 200.0, due=200.0), reference(7, 200.5, due=200.0))
    assert spans(*checks, kind="scale") == []
    own = LabSettings(checks=LAB.checks, instrument_checks={"R1": CheckLimits(reference_tolerance=0.2)})
    assert spans(*checks, kind="scale", settings=own) == [(at(0), None, 200.5, 1)]
