"""Control limits of single checks, and pass or fail."""

from datetime import UTC, datetime, timedelta

import pytest

from analysis.measurement.calibration import Check
from analysis.measurement.zero_chart import NotCharted, individuals_chart, verdicts
from schemas.lab import CheckLimits

START = datetime(2026, 3, 2, 8, tzinfo=UTC)
# NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.2, flow rates of ten batches, to the digits printed there.
HANDBOOK = [49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1]


def zeros(errors):
    return [Check(START + timedelta(weeks=week), "water_zero", 0.0, error) for week, error in enumerate(errors)]


def passed(checks, **limits):
    resolution = limits.pop("resolution", None)
    return [
        [verdict.passed for verdict in part] for part in verdicts(checks, CheckLimits(**limits), resolution=resolution)
    ]


def test_the_handbooks_individuals_chart():
    chart = individuals_chart(HANDBOOK)
    assert chart.n == 10
    assert chart.centre == pytest.approx(50.81, abs=0.005)
    assert chart.mean_range == pytest.approx(1.8778, abs=5e-5)
    assert chart.upper == pytest.approx(55.8041, abs=5e-5)
    assert chart.lower == pytest.approx(45.8159, abs=5e-5)
    assert chart.range_upper == pytest.approx(6.1347, abs=5e-5)
    assert chart.outside == ()


def test_a_value_beyond_the_limits_is_named_by_its_place():
    # 20 alternating values: mean range 0.02 but for the last, 0.2; a check at 0.2 is far out.
    chart = individuals_chart([0.01, -0.01] * 10 + [0.2])
    assert chart.outside == (20,)


def test_seven_checks_give_no_limits_and_say_so():
    assert individuals_chart([0.0] * 7) == NotCharted(7, "control limits need 8 checks, there are 7")
    assert individuals_chart([0.0]) == NotCharted(1, "control limits need 8 checks, there is 1")


def test_one_display_step_is_no_failure_where_all_repeats_are_equal():
    values = [0.0, 0.0, 0.0, 0.0, 0.01, 0.0, 0.0, 0.0, 0.0, 0.0]
    assert individuals_chart(values).outside == (4,)  # by the ranges alone
    chart = individuals_chart(values, resolution=0.01)
    assert (chart.outside, chart.widened) == ((), True)
    assert individuals_chart([0.02, *values], resolution=0.01).outside == (0,)


@pytest.mark.parametrize(("observed", "fine"), [(0.02, True), (-0.02, True), (0.021, False), (0.05, False)])
def test_a_declared_tolerance_decides_and_its_bound_passes(observed, fine):
    assert passed(zeros([observed]), zero_tolerance=0.02) == [[fine]]


def test_a_reference_error_is_the_difference_even_in_floating_point():
    # 1.35 - 1.30 is 0.05000000000000004 in floating point.
    check = Check(START, "reference", 1.30, 1.35)
    assert passed([check], reference_tolerance=0.05) == [[True]]
    assert passed([check], reference_tolerance=0.049) == [[False]]


def test_without_tolerance_and_with_few_checks_there_is_no_verdict():
    assert passed(zeros([0.0, 0.5, 0.0])) == [[None] * 3]
    assert passed(zeros([0.0, 0.5, 0.0]), reference_tolerance=0.01) == [[None] * 3]


def test_with_eight_checks_their_own_limits_decide():
    errors = [0.01, -0.01] * 10 + [0.2]
    assert passed(zeros(errors)) == [[True] * 20 + [False]]


def test_zeros_and_each_level_of_references_are_judged_apart():
    checks = [
        *zeros([0.0]),
        Check(START, "reference", 1.3, 1.3),
        Check(START, "reference", 9.8, 9.9),
        Check(START + timedelta(weeks=1), "reference", 1.31, 1.5),
    ]
    assert passed(checks, zero_tolerance=0.02, reference_tolerance=0.05) == [[True], [True, False], [False]]
