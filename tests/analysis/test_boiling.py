"""Boiling points against IAPWS-IF97 and the US Standard Atmosphere."""

from pathlib import Path

import polars as pl
import pytest

from analysis.boiling import air_pressure_pa, boiling_point_c, saturation_c

ROWS = pl.read_csv(Path(__file__).parents[1] / "reference" / "boiling" / "altitude.csv").rows()


@pytest.mark.parametrize(("altitude_m", "pressure_pa", "boiling_c"), ROWS)
def test_pressure_and_boiling_point_at_altitude(altitude_m, pressure_pa, boiling_c):
    assert air_pressure_pa(altitude_m) == pytest.approx(pressure_pa, abs=0.006)
    assert boiling_point_c(altitude_m) == pytest.approx(boiling_c, abs=6e-5)


def test_the_short_form_of_the_atmosphere_differs_by_less_than_0_03_pa():
    # check-values.md 1.6
    for altitude_m in range(0, 3651, 50):
        short = 101325 * (1 - 2.25577e-5 * altitude_m) ** 5.25588
        assert air_pressure_pa(altitude_m) == pytest.approx(short, abs=0.03)


def test_96_c_cannot_be_reached_above_about_1195_m():
    # check-values.md 1.6, interpolated there
    assert boiling_point_c(1190) > 96 > boiling_point_c(1200)


@pytest.mark.parametrize(("mpa", "kelvin"), [(0.1, 372.755919), (1.0, 453.035632), (10.0, 584.149488)])
def test_the_saturation_line_at_the_check_points_of_its_release(mpa, kelvin):
    # IAPWS-IF97, table of check values for the backward equation: from memory, not read here.
    assert saturation_c(mpa * 1e6) + 273.15 == pytest.approx(kelvin, abs=5e-7)
