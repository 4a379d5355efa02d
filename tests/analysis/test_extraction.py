"""Extraction arithmetic against published tables, common practice and its own symmetries."""

from pathlib import Path

import numpy as np
import polars as pl
import pytest
from hypothesis import given
from hypothesis import strategies as st

from analysis import extraction as ex

REFERENCE = Path(__file__).parents[1] / "reference" / "coffee"
PERCOLATION = pl.read_csv(REFERENCE / "percolation.csv").to_dicts()
IMMERSION = pl.read_csv(REFERENCE / "immersion.csv").to_dicts()

doses = st.floats(5, 100)
ratios = st.floats(1.5, 20)
strengths = st.floats(0.5, 15)
scales = st.floats(0.1, 50)


def percolation_yield(*, dose_g, beverage_g, tds_pct):
    dissolved = ex.percolation_dissolved_g(beverage_g=beverage_g, tds_pct=tds_pct)
    return ex.extraction_yield_pct(dissolved_g=dissolved, dose_g=dose_g)


def immersion_yield(*, dose_g, water_g, tds_pct, evaporated_g=0.0):
    dissolved = ex.immersion_dissolved_g(water_g=water_g, evaporated_g=evaporated_g, tds_pct=tds_pct)
    return ex.extraction_yield_pct(dissolved_g=dissolved, dose_g=dose_g)


@pytest.mark.parametrize("brew", PERCOLATION)
def test_percolation_yields_of_the_reference_table(brew):
    found = percolation_yield(dose_g=brew["dose_g"], beverage_g=brew["beverage_g"], tds_pct=brew["tds_pct"])

    assert found == pytest.approx(brew["extraction_yield_pct"], rel=1e-9)


@pytest.mark.parametrize("brew", [brew for brew in PERCOLATION if brew["water_g"]])
def test_retained_liquid_of_the_reference_table(brew):
    # The table's 2 g/g is liquid; the water in it is what is left once its dissolved share is taken out of the cup.
    water_left = ex.retained_g(
        water_g=brew["water_g"], evaporated_g=0.0, beverage_g=brew["beverage_g"], tds_pct=brew["tds_pct"]
    )
    dissolved = brew["extraction_yield_pct"] / 100 * brew["dose_g"]

    assert water_left - dissolved == pytest.approx(brew["retained_g_per_g"] * brew["dose_g"], rel=1e-9)


def test_the_published_dose_and_yield_land_in_the_published_strength_range():
    # 55 g/L at 20 % and 2 g/g retained; range 1.15 to 1.35 % (SCAA standard, 2015; check-values.md 1.1).
    assert 1.15 <= PERCOLATION[0]["tds_pct"] <= 1.35
    assert pytest.approx(49.5) == 55 * 0.9
    assert pytest.approx(60.5) == 55 * 1.1


@pytest.mark.parametrize("brew", IMMERSION)
def test_immersion_yields_of_the_reference_table(brew):
    found = immersion_yield(dose_g=1.0, water_g=brew["water_ratio"], tds_pct=brew["tds_pct"])

    # d(yield)/d(strength) is at most about 21 here, and strengths are given to 5e-7.
    assert found == pytest.approx(brew["extraction_yield_pct"], abs=21 * 5e-7)


def test_the_wrong_balance_understates_an_immersion_by_2_83_points():
    # check-values.md 1.3: 15 g, 225 g, 1.413079 %: 21.5000 %; on the poured 198.225 g the other balance gives 18.674 %.
    right = immersion_yield(dose_g=15.0, water_g=225.0, tds_pct=1.413079)
    wrong = percolation_yield(dose_g=15.0, beverage_g=198.225, tds_pct=1.413079)

    assert right == pytest.approx(21.5, abs=5e-5)
    assert wrong == pytest.approx(18.674, abs=5e-4)
    assert right - wrong == pytest.approx(2.83, abs=5e-3)


def test_common_practice_values_no_source():
    assert ex.percolation_dissolved_g(beverage_g=40.0, tds_pct=10.0) == pytest.approx(4.0)
    assert 40.0 - ex.percolation_dissolved_g(beverage_g=40.0, tds_pct=10.0) == pytest.approx(36.0)
    assert percolation_yield(dose_g=20.0, beverage_g=40.0, tds_pct=10.0) == pytest.approx(20.0)
    assert percolation_yield(dose_g=20.0, beverage_g=25.0, tds_pct=12.0) == pytest.approx(15.0)
    filter_g, espresso_g = (ex.percolation_dissolved_g(beverage_g=100.0, tds_pct=tds) for tds in (1.25, 10.0))
    assert espresso_g / filter_g == pytest.approx(8.0)


def test_bypass_undone_and_done_again():
    # 200 g at 1.25 % holds 2.5 g; 50 g of water more make 250 g at 1 %.
    assert ex.undiluted_tds_pct(tds_pct=1.0, beverage_g=200.0, bypass_g=50.0) == pytest.approx(1.25)
    assert ex.cup_tds_pct(tds_pct=1.25, beverage_g=200.0, bypass_g=50.0) == pytest.approx(1.0)
    assert ex.beverage_before_bypass_g(beverage_g=250.0, bypass_g=50.0, bypass_included=1.0) == 200.0
    assert ex.beverage_before_bypass_g(beverage_g=250.0, bypass_g=50.0, bypass_included=0.0) == 250.0


def test_dry_basis_by_hand():
    # 4 g out of 20 g with 5 % moisture: 4 / 19.
    assert ex.dry_dose_g(dose_g=20.0, moisture_pct=5.0) == pytest.approx(19.0)
    assert ex.extraction_yield_pct(dissolved_g=4.0, dose_g=19.0) == pytest.approx(21.0526316, abs=5e-8)


def test_evaporated_water_comes_off_the_immersion_balance():
    # 100 g less 20 g, at 10 %: 80 * 0.1 / 0.9 = 8.888... g
    found = ex.immersion_dissolved_g(water_g=100.0, evaporated_g=20.0, tds_pct=10.0)
    assert found == pytest.approx(80 / 9)


@given(dose=doses, ratio=ratios, tds=strengths, scale=scales)
def test_a_yield_does_not_change_when_the_whole_recipe_is_scaled(dose, ratio, tds, scale):
    small = percolation_yield(dose_g=dose, beverage_g=dose * ratio, tds_pct=tds)
    large = percolation_yield(dose_g=dose * scale, beverage_g=dose * ratio * scale, tds_pct=tds)
    assert large == pytest.approx(small, rel=1e-12)
    small = immersion_yield(dose_g=dose, water_g=dose * ratio, tds_pct=tds)
    large = immersion_yield(dose_g=dose * scale, water_g=dose * ratio * scale, tds_pct=tds)
    assert large == pytest.approx(small, rel=1e-12)


@given(ratio=ratios, tds=strengths)
def test_yield_over_strength_is_a_line_through_the_origin_at_a_fixed_ratio(ratio, tds):
    once = percolation_yield(dose_g=1.0, beverage_g=ratio, tds_pct=tds)
    twice = percolation_yield(dose_g=1.0, beverage_g=ratio, tds_pct=2 * tds)
    assert twice == pytest.approx(2 * once, rel=1e-12)


@given(water=st.floats(50, 2000), dose=doses, tds=strengths)
def test_an_immersion_keeps_its_mass(water, dose, tds):
    # Liquid = water + dissolved; its dissolved share must be the strength.
    dissolved = ex.immersion_dissolved_g(water_g=water, evaporated_g=0.0, tds_pct=tds)
    assert 100 * dissolved / (water + dissolved) == pytest.approx(tds, rel=1e-12)


@given(tds=strengths, beverage=st.floats(10, 500), bypass=st.floats(0, 500))
def test_diluting_undoes_undiluting(tds, beverage, bypass):
    undiluted = ex.undiluted_tds_pct(tds_pct=tds, beverage_g=beverage, bypass_g=bypass)
    assert ex.cup_tds_pct(tds_pct=undiluted, beverage_g=beverage, bypass_g=bypass) == pytest.approx(tds, rel=1e-12)


def test_one_formula_serves_floats_arrays_and_expressions():
    water, evaporated, tds = [100.0, 225.0, 40.0], [0.0, 5.0, 1.0], [10.0, 1.413079, 3.0]
    floats = [
        ex.immersion_dissolved_g(water_g=w, evaporated_g=v, tds_pct=t)
        for w, v, t in zip(water, evaporated, tds, strict=True)
    ]
    arrays = ex.immersion_dissolved_g(water_g=np.array(water), evaporated_g=np.array(evaporated), tds_pct=np.array(tds))
    frame = pl.DataFrame({"w": water, "v": evaporated, "t": tds})
    column = frame.select(ex.immersion_dissolved_g(water_g=pl.col("w"), evaporated_g=pl.col("v"), tds_pct=pl.col("t")))

    assert arrays.tolist() == floats
    assert column.to_series().to_list() == floats
