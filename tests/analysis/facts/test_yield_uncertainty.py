"""Mass uncertainties by weighing scale or lab default, carried to the yield."""

import math

import pytest

from schemas.lab import LabSettings

DEFAULTS = {"tds_pct": 0.02, "dose_g": 0.05, "beverage_g": 0.5, "water_g": 0.6}
LAB = LabSettings(default_u=DEFAULTS)
SCALE = {"scale_id": "S1", "scale_standard_uncertainty": 0.1, "scale_resolution": 0.2}
ONE_PAIR = "scatter of readings on an unnamed instrument judged from 1 repeat only"
U_SCALE = math.sqrt(0.1**2 + 2 * 0.2**2 / 12)  # tare and load: the display is read twice


def test_the_reference_budget(fact_of):
    # check-values.md 2.1: strength 1.25 u 0.02, beverage 288 u 0.5, dose 18 u 0.05: u = 0.3266375.
    fact = fact_of({"method": "pour_over", "beverage_g": 288.0, "tds": [1.25, 1.25]}, settings=LAB)
    assert fact["extraction_yield_pct"] == pytest.approx(20.0)
    assert fact["extraction_yield_u_pct"] == pytest.approx(0.3266375, abs=5e-8)
    assert fact["u_note"] == ONE_PAIR


def test_one_scale_covers_every_mass(fact_of):
    brew = SCALE | {"beverage_g": 100.0, "bypass_g": 40.0, "bypass_included": True, "bypass_before_reading": False}
    fact = fact_of(brew | {"dose_g": 20.0, "tds": [5.0, 5.0]}, settings=LAB)
    # M = 60, yield 15: d/dt 60/20, d/dbeverage 5/20, d/dbypass -5/20, d/dD -15/20.
    parts = [3 * 0.02, 0.25 * U_SCALE, 0.25 * U_SCALE, 0.75 * U_SCALE]
    assert fact["extraction_yield_u_pct"] == pytest.approx(math.hypot(*parts))


def test_without_a_scale_bypass_and_evaporation_take_the_water_default(fact_of):
    brew = {"beverage_g": 100.0, "bypass_g": 40.0, "bypass_included": True, "bypass_before_reading": False}
    fact = fact_of(brew | {"dose_g": 20.0, "tds": [5.0, 5.0]}, settings=LAB)
    assert fact["extraction_yield_u_pct"] == pytest.approx(math.hypot(3 * 0.02, 0.25 * 0.5, 0.25 * 0.6, 0.75 * 0.05))
    steeped = {"method": "immersion", "dose_g": 10.0, "water_g": 100.0, "evaporated_g": 10.0, "tds": [1.0, 1.0]}
    fact = fact_of(steeped, settings=LAB)
    # yield 100 * 90 * (1/99) / 10 = 9.0909; d/dt = 90/10 * 100^2/99^2; d/dW = -d/dV = 100/99/10; d/dD = -0.90909.
    slopes = [9 * (100 / 99) ** 2, 10 / 99, 10 / 99, 90 / 99]
    assert fact["extraction_yield_pct"] == pytest.approx(900 / 99)
    assert fact["extraction_yield_u_pct"] == pytest.approx(
        math.hypot(slopes[0] * 0.02, slopes[1] * 0.6, slopes[2] * 0.6, slopes[3] * 0.05)
    )


def test_an_empty_evaporation_is_exact(fact_of):
    steeped = {"method": "immersion", "dose_g": 10.0, "water_g": 100.0, "tds": [1.0, 1.0]}
    weighed = fact_of(steeped | {"evaporated_g": 0.0}, settings=LAB)["extraction_yield_u_pct"]
    empty = fact_of(steeped, settings=LAB)["extraction_yield_u_pct"]
    assert weighed**2 - empty**2 == pytest.approx((100 / 99 / 10 * 0.6) ** 2)


def test_masses_without_scale_or_default_are_exact_and_said_so(fact_of):
    lab = LabSettings(default_u={"tds_pct": 0.02, "dose_g": 0.05})
    fact = fact_of({"tds": [10.0, 10.0]}, settings=lab)
    assert fact["extraction_yield_u_pct"] == pytest.approx(math.hypot(2 * 0.02, 20 / 18 * 0.05))
    assert fact["u_note"] == f"{ONE_PAIR}; no scale_id and no lab default for beverage_g: counted as exact"


def test_the_note_names_only_masses_that_the_balance_uses(fact_of):
    lab = LabSettings(default_u={"tds_pct": 0.02})
    fact = fact_of({"method": "immersion", "water_g": 300.0, "tds": [1.3, 1.3]}, settings=lab)
    assert fact["u_note"] == f"{ONE_PAIR}; no scale_id and no lab default for dose_g, water_g: counted as exact"


def test_a_scale_that_says_nothing_of_itself_leaves_the_yields_uncertainty_empty(fact_of):
    fact = fact_of({"scale_id": "S9", "tds": [10.0, 10.0]}, settings=LAB)
    assert fact["tds_u_pct"] == pytest.approx(0.02)
    assert fact["extraction_yield_u_pct"] is None
    assert fact["u_note"] == (
        f"{ONE_PAIR}; S9 has no standard_uncertainty: no uncertainty of yield; S9 has no resolution: counted as 0"
    )
