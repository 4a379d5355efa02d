"""Corrections from reference checks, against R, by hand, and where there is none to be had."""

import csv
import math
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest

from analysis.measurement.calibration import Check
from analysis.measurement.correction import FittedCorrection, NoCorrection, fit_correction
from analysis.measurement.deming import ErrorRatio, fit_line
from analysis.measurement.reference_line import reference_line

REFERENCE = Path(__file__).parents[2] / "reference" / "calibration"
START = datetime(2026, 3, 2, 8, tzinfo=UTC)
T_2, T_INF = 4.302653, 1.959964  # two-sided 95 % quantiles of Student's t, from tables


def rows(name):
    with (REFERENCE / name).open(encoding="utf-8") as file:
        return list(csv.DictReader(file))


EXPECTED = {(row["case"], row["quantity"]): float(row["value"]) for row in rows("expected.csv")}


def points(case):
    chosen = [row for row in rows("points.csv") if row["case"] == case]
    return [np.array([float(row[name] or "nan") for row in chosen]) for name in ("x", "y", "var_x", "var_y")]


def checks_at(pairs):
    return [Check(START + timedelta(weeks=week), "reference", due, seen) for week, (due, seen) in enumerate(pairs)]


def checks_of(case):
    x, y, _, _ = points(case)
    return checks_at(zip(x.tolist(), y.tolist(), strict=True))


@pytest.mark.parametrize("case", ["pearson", "bottles", "alike"])
def test_the_line_is_the_one_that_r_finds_by_direct_search(case):
    line = reference_line(*points(case))
    for name in ("intercept", "slope", "chi2"):
        assert getattr(line, name) == pytest.approx(EXPECTED[case, name], rel=1e-7)


def test_the_published_line_and_its_standard_errors():
    # York et al. (2004), as printed in open test suites.
    line = reference_line(*points("pearson"))
    assert line.intercept == pytest.approx(5.479910224, abs=5e-10)
    assert line.slope == pytest.approx(-0.480533407, abs=5e-10)
    var_intercept, _, var_slope = line.covariance
    assert math.sqrt(var_intercept) == pytest.approx(0.294970735, abs=5e-10)
    assert math.sqrt(var_slope) == pytest.approx(0.0579850090, abs=5e-11)
    assert line.chi2 / 8 == pytest.approx(1.483294149, abs=5e-10)


def test_with_equal_variances_the_line_is_demings():
    x, y, var_x, var_y = points("alike")
    line = reference_line(x, y, var_x, var_y)
    other = fit_line(x, y, ErrorRatio(var_x[0], var_y[0], 0.1, 10.0, known=True, basis=""))
    assert line.slope == pytest.approx(other.slope, rel=1e-12)
    assert line.intercept == pytest.approx(other.intercept, rel=1e-10)


def test_exact_references_checked_once_are_ordinary_regression():
    found = fit_correction(checks_of("exact"), reference_u=0.0)
    assert found.kind == "offset and slope"
    assert found.offset == pytest.approx(EXPECTED["exact", "intercept"], rel=1e-9)
    assert found.slope == pytest.approx(EXPECTED["exact", "slope"], rel=1e-9)
    expected = [EXPECTED["exact", name] for name in ("var_intercept", "covariance", "var_slope")]
    assert found.covariance == pytest.approx(expected, rel=1e-6)
    for strength in (1.3, 6, 14):
        reading = found.offset + found.slope * strength
        assert found.corrected(reading) == pytest.approx(strength)
        # R gives the standard error of the line; a corrected reading has it divided by the slope.
        assert found.line_u(reading) == pytest.approx(EXPECTED["exact", f"se_at_{strength:g}"] / found.slope, rel=1e-6)
    assert found.df == pytest.approx(3, rel=1e-3)


def test_oven_samples_of_known_uncertainty_and_unknown_scatter():
    found = fit_correction(checks_of("oven"), reference_u=math.sqrt(0.00012), kind="offset and slope")
    assert found.slope == pytest.approx(EXPECTED["oven", "slope"], rel=1e-7)
    assert found.offset == pytest.approx(EXPECTED["oven", "intercept"], rel=1e-6)
    assert found.scatter**2 == pytest.approx(EXPECTED["oven", "scatter_variance"], rel=1e-6)


def test_one_reference_by_hand():
    # Errors 0.02, 0.03, 0.04: mean 0.03, sd 0.01, 3 checks; display 0.01; the bottle's own u 0.02.
    found = fit_correction(checks_at([(1.3, 1.32), (1.3, 1.33), (1.3, 1.34)]), resolution=0.01, reference_u=0.02)
    assert (found.kind, found.slope, found.no_slope) == ("offset", 1.0, "one reference value only")
    assert found.offset == pytest.approx(0.03)
    step = 0.01**2 / 12
    assert found.height_u == pytest.approx(math.sqrt(0.0001 / 3 + step + 0.02**2))
    assert found.wander == pytest.approx(math.sqrt(0.0001 - step))
    assert found.u(1.35) == pytest.approx(math.sqrt(0.0001 / 3 + 0.02**2 + 0.0001))
    assert found.u(9.0) == found.u(1.35)


def test_known_repeats_are_not_counted_as_the_instruments_wandering():
    checks = checks_at([(1.3, 1.32), (1.3, 1.33), (1.3, 1.34)])
    assert fit_correction(checks, repeat_sd=0.006).wander == pytest.approx(0.008)  # 0.01^2 - 0.006^2
    assert fit_correction(checks, repeat_sd=0.02).wander == 0.0


def test_what_is_declared_is_raised_for_few_checks_and_keeps_its_covariance():
    exact = fit_correction(checks_at([(1.3, 1.32), (1.3, 1.33), (1.3, 1.34)]))
    declared = exact.declared("R1")
    assert declared.standard_uncertainty == pytest.approx(exact.u(1.35) * T_2 / T_INF, rel=1e-6)
    found = fit_correction(checks_of("exact"), reference_u=1.0)  # scatter is nothing beside such references
    declared = found.declared("R1")
    for reading in (1.3, 14.0):
        turned = declared.slope_u / declared.slope * (found.corrected(reading) - declared.centre)
        assert math.hypot(declared.standard_uncertainty, turned) == pytest.approx(found.u(reading), rel=1e-6)


def test_the_uncertainty_of_a_bottle_does_not_shrink_with_more_checks():
    few = checks_at([(1.3, 1.32), (1.3, 1.33), (1.3, 1.34)])
    many = checks_at([(1.3, 1.32), (1.3, 1.33), (1.3, 1.34)] * 40)
    assert fit_correction(few, reference_u=0.05).height_u == pytest.approx(0.05, rel=0.01)
    assert fit_correction(many, reference_u=0.05).height_u == pytest.approx(0.05, rel=0.001)


def test_a_stated_uncertainty_of_one_reference_goes_before_the_general_one():
    checks = [Check(START + timedelta(weeks=week), "reference", 1.3, 1.32 + 0.01 * week, 0.04) for week in range(3)]
    assert fit_correction(checks, reference_u=0.001).height_u == pytest.approx(math.hypot(0.04, 0.01 / 3**0.5))


def test_references_off_the_line_widen_the_uncertainty_and_are_named():
    bent = checks_at([(due, due + error) for due, error in ((1.3, 0.0), (5.0, 0.2), (9.8, 0.0)) for _ in range(3)])
    found = fit_correction(bent, resolution=0.01, reference_u=0.01)
    assert found.misfit
    alike = checks_at([(due, due + 0.01) for due in (1.3, 5.0, 9.8) for _ in range(3)])
    fine = fit_correction(alike, resolution=0.01, reference_u=0.01)
    assert not fine.misfit
    assert found.height_u > 5 * fine.height_u
    assert found.df == 1


def test_references_too_near_each_other_give_an_offset_alone():
    near = checks_at([(1.30, 1.33), (1.31, 1.33), (1.30, 1.32), (1.31, 1.35), (1.30, 1.34)])
    found = fit_correction(near, resolution=0.01, reference_u=0.01)
    assert found.kind == "offset"
    assert found.no_slope.startswith("the references lie too near each other: a slope would be known to ")
    refused = fit_correction(near, resolution=0.01, reference_u=0.01, kind="offset and slope")
    assert refused == NoCorrection(5, found.no_slope)


def test_an_offset_alone_can_be_asked_for():
    found = fit_correction(checks_of("exact"), kind="offset")
    assert (found.kind, found.slope, found.slope_u) == ("offset", 1.0, 0.0)
    assert found.no_slope == "an offset alone was asked for"


def test_two_references_make_a_line_through_their_means():
    checks = checks_at([(1.3, 1.32), (9.8, 9.9), (1.3, 1.34), (9.8, 9.94)])
    found = fit_correction(checks, resolution=0.01, reference_u=0.01)
    assert found.slope == pytest.approx((9.92 - 1.33) / (9.8 - 1.3))
    assert found.offset == pytest.approx(1.33 - found.slope * 1.3)


@pytest.mark.parametrize(
    ("checks", "reason"),
    [
        ([], "there are no reference checks"),
        ([Check(START, "water_zero", 0.0, 0.01)] * 5, "there are no reference checks"),
        (checks_at([(1.3, 1.31)]), "one reference check only; how far checks scatter takes 3"),
        (checks_at([(1.3, 1.31)] * 2), "2 reference checks only; how far checks scatter takes 3"),
        (
            checks_at([(1.3, 1.31)] * 8),
            "the checks agree to the last digit and no display step is stated: no uncertainty",
        ),
    ],
)
def test_what_gives_no_correction_says_why(checks, reason):
    found = fit_correction(checks)
    assert isinstance(found, NoCorrection)
    assert found.reason == reason


def test_equal_checks_leave_the_display_step():
    found = fit_correction(checks_at([(1.3, 1.31)] * 8), resolution=0.01)
    assert isinstance(found, FittedCorrection)
    assert found.u(1.31) == pytest.approx(0.01 / math.sqrt(12))


def test_readings_beyond_the_references_are_told():
    found = fit_correction(checks_of("exact"))
    assert not found.outside(2.0, 9.0)
    assert found.outside(1.0, 9.0)
    assert found.outside(2.0, 12.0)
    assert found.line_u(20.0) > found.line_u(9.0)


def dried(pairs, *, own, shared):
    return [
        Check(START + timedelta(weeks=week), "reference", due, seen, math.hypot(own, share), share)
        for week, ((due, seen), share) in enumerate(zip(pairs, shared, strict=True))
    ]


def test_what_references_share_is_not_shrunk_by_more_of_them():
    # JCGM 100, 5.2: an error common to all references moves the offset by itself, however many there are.
    pairs = [(1.20 + 0.01 * k, 1.23 + 0.01 * k + 0.004 * (-1) ** k) for k in range(12)]
    alone = fit_correction(dried(pairs, own=0.005, shared=[0.0] * 12), resolution=0.01, kind="offset")
    common = fit_correction(dried(pairs, own=0.005, shared=[0.02] * 12), resolution=0.01, kind="offset")
    assert common.offset == pytest.approx(alone.offset)
    assert common.height_u**2 - alone.height_u**2 == pytest.approx(0.02**2)
    assert common.height_u > 0.02 > 4 * alone.height_u


def test_a_share_of_the_strength_that_all_references_miss_is_a_slope():
    # An oven that drives off 1 % of every residue: all references are 1 % off together, which is a slope of 1 %.
    pairs = [(due, 1.02 * due + 0.01 + 0.003 * (-1) ** k) for k, due in enumerate([1.0, 1.4, 4.0, 6.0, 9.0, 12.0])]
    lost = [0.01 * due for due, _ in pairs]
    alone = fit_correction(dried(pairs, own=0.01, shared=[0.0] * 6), resolution=0.01)
    common = fit_correction(dried(pairs, own=0.01, shared=lost), resolution=0.01)
    assert (common.offset, common.slope) == pytest.approx((alone.offset, alone.slope))
    assert common.slope_u**2 - alone.slope_u**2 == pytest.approx((0.01 * alone.slope) ** 2, rel=1e-6)
    for strength in (0.0, 1.0, 4.0, 12.0):
        reading = common.offset + common.slope * strength
        added = common.line_u(reading) ** 2 - alone.line_u(reading) ** 2
        assert added == pytest.approx((0.01 * strength) ** 2, rel=1e-6, abs=1e-12)


def test_a_bottle_and_dried_samples_against_the_line_written_out():
    # JCGM 100, 5.2.2, with the whole covariance of the references: V = own variances + s s', s what they share. A line
    # a + b x with weights w is linear in the readings, (X'WX)^-1 X'W V W X (X'WX)^-1; references without error of
    # their own, so that the weights are those of the readings alone.
    due = np.array([1.3, 1.4, 5.0, 8.0, 10.0])
    shared = np.array([0.0, 0.006, 0.015, 0.024, 0.030])
    seen = due + np.array([0.004, -0.004, 0.003, -0.005, 0.003])
    found = fit_correction(dried(list(zip(due, seen, strict=True)), own=0.0, shared=shared), resolution=0.01)
    x = np.column_stack([np.ones(5), due])
    bread = np.linalg.inv(x.T @ x)
    offset, slope = bread @ x.T @ seen
    variance = float(np.sum((seen - offset - slope * due) ** 2)) / 3 + 0.01**2 / 12
    both = bread @ x.T @ (variance * np.eye(5) + slope**2 * np.outer(shared, shared)) @ x @ bread
    assert (found.offset, found.slope) == pytest.approx((offset, slope), rel=1e-9)
    for strength in (0.0, 1.3, 10.0):
        at = np.array([1.0, strength])
        assert found.line_u(offset + slope * strength) == pytest.approx(math.sqrt(at @ both @ at) / slope, rel=1e-6)
    assert found.line_u(offset + slope * 10.0) > 0.029


@pytest.mark.parametrize(("last", "said"), [(60.0, "0.01 higher where a reference is 1 higher"), (11.0, "")])
def test_a_reference_that_cannot_be_right_makes_no_correction(last, said):
    # By hand: 9.85, 9.86, 9.84 at 9.80, 10.25 at 10.20, and 10.25 at 60: 0.4 of reading over 50 of reference.
    pairs = [(9.80, 9.85), (9.80, 9.86), (9.80, 9.84), (10.20, 10.25), (last, 10.25 if said else 11.05)]
    checks = [Check(START + timedelta(days=day), "reference", *pair) for day, pair in enumerate(pairs)]
    found = fit_correction(checks, resolution=0.01)
    assert isinstance(found, NoCorrection) == bool(said)
    if isinstance(found, NoCorrection):
        assert said in found.reason
        assert "look for a wrong reference value" in found.reason
