"""A declared correction with a slope: its uncertainty at each reading, and the words that go with the numbers."""

import math

import pytest

from analysis.facts.derive import brew_readings
from analysis.facts.strength import reading_groups
from schemas.lab import Correction, LabSettings
from tests.analysis.facts.conftest import parts

R1 = {"instrument_id": "R1", "standard_uncertainty": 0.03, "resolution": 0.0, "brew_id": "b1"}
LINE = Correction("R1", offset=0.05, slope=1.25, standard_uncertainty=0.03, slope_u=0.01, centre=4.0, low=1.0, high=9.0)
LAB = LabSettings(corrections=(LINE,))


def read(values, **more):
    return [R1 | {"reading_no": number, "tds_pct": value} | more for number, value in enumerate(values, 1)]


# (10.05 - 0.05) / 1.25 = 8, 4 above the centre: 4 * 0.01 / 1.25 = 0.032. At (5.05 - 0.05) / 1.25 = 4 nothing is added.
@pytest.mark.parametrize(("seen", "strength", "u"), [(10.05, 8.0, math.hypot(0.03, 0.032)), (5.05, 4.0, 0.03)])
def test_the_uncertainty_is_the_corrections_own_at_that_reading(fact_of, seen, strength, u):
    fact = fact_of({}, read([seen]), settings=LAB)
    assert fact["tds_pct"] == pytest.approx(strength)
    assert fact["tds_u_pct"] == pytest.approx(u)


def test_centre_and_slope_u_say_the_covariance_of_offset_and_slope():
    # From offset a, slope b: u^2(x) = (u^2(a) + 2 x cov + x^2 u^2(b)) / b^2, cov = -centre u^2(b),
    # u^2(a) = (b standard_uncertainty)^2 + centre^2 u^2(b).
    var_slope = 0.01**2
    var_offset = (1.25 * 0.03) ** 2 + 4.0**2 * var_slope
    by_covariance = math.sqrt(var_offset + 2 * 8.0 * (-4.0 * var_slope) + 8.0**2 * var_slope) / 1.25
    assert by_covariance == pytest.approx(math.hypot(0.03, 0.032))


def test_readings_of_a_brew_share_the_corrections_error(fact_of):
    # 7.8 and 8.2 with a mean of 8: scatter sqrt(0.08), which halves in the mean; the correction's part does not.
    fact = fact_of({}, read([9.8, 10.3]), settings=LAB)
    assert fact["tds_u_pct"] == pytest.approx(math.sqrt(0.08 / 2 + 0.03**2 + 0.032**2))


def test_a_correction_of_a_brix_reading_is_in_brix(fact_of):
    lab = LabSettings(corrections=(LINE,), brix_factor=0.85)
    fact = fact_of({}, read([10.05], reading_scale="brix"), settings=lab)
    assert fact["tds_pct"] == pytest.approx(0.85 * 8.0)
    assert fact["tds_u_pct"] == pytest.approx(0.85 * math.hypot(0.03, 0.032))
    assert fact["correction_note"] == "R1: (reading - 0.05) / 1.25"


def test_groups_carry_both_parts_for_a_budget():
    joined, readings = parts([{}], read([10.05]))
    brews = joined.with_row_index("brew").with_columns(is_void=False)
    group = reading_groups(brew_readings(brews, readings, LAB), LAB).row(0, named=True)
    assert (group["correction_u"], group["correction_gain_u"], group["correction_centre"]) == (0.03, 0.008, 4.0)
    assert group["bias_u"] == pytest.approx(math.hypot(0.03, 0.032))


def test_the_note_says_what_was_applied_and_where_it_was_checked(fact_of):
    assert fact_of({}, read([10.05]), settings=LAB)["correction_note"] == "R1: (reading - 0.05) / 1.25"
    beyond = fact_of({}, read([10.05, 12.0]), settings=LAB)
    assert beyond["correction_note"] == "R1: (reading - 0.05) / 1.25, checked at 1 to 9 only"
    one = LabSettings(corrections=(Correction("R1", offset=-0.02, low=1.3, high=1.3),))
    assert fact_of({}, read([9.0]), settings=one)["correction_note"] == "R1: reading + 0.02, checked at 1.3 only"


def test_the_bounds_of_a_corrected_reading_are_inside(fact_of):
    assert (
        fact_of({}, read([9.0]), settings=LabSettings(corrections=(Correction("R1", low=1.0, high=9.0),)))[
            "correction_note"
        ]
        == "R1: reading"
    )


def test_only_brews_read_on_that_instrument_have_a_note(facts_of):
    other = {"instrument_id": "R2", "reading_no": 1, "tds_pct": 9.0}
    readings = [*read([9.0]), other | {"brew_id": "b1"}, other | {"brew_id": "b2"}]
    facts = facts_of([{}, {}], readings, settings=LAB).sort("brew_id")
    assert facts["correction_note"].to_list() == ["R1: (reading - 0.05) / 1.25", None]


def test_taking_the_declaration_away_brings_the_reading_back(fact_of):
    assert fact_of({}, read([10.05]))["tds_pct"] == 10.05
    assert fact_of({}, read([10.05]))["correction_note"] is None
