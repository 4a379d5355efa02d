"""Slopes on weighed quantities against finite differences of the mass balances, written out anew in plain Python."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import polars as pl
import pytest

from analysis.outcomes.weighed_slopes import weighed_slopes

Masses = dict[str, float]
PERCOLATION = {"dose_g": 18.0, "beverage_g": 40.0, "water_g": 60.0, "bypass_g": 20.0, "evaporated_g": 0.0}
IMMERSION = {"dose_g": 15.0, "beverage_g": 200.0, "water_g": 240.0, "bypass_g": 0.0, "evaporated_g": 3.0}
T = 0.08


def percolated(m: Masses, *, after: bool) -> float:
    t0 = T * (m["beverage_g"] + m["bypass_g"]) / m["beverage_g"] if after else T
    return 100 * m["beverage_g"] * t0 / m["dose_g"]


def steeped(m: Masses) -> float:
    return 100 * (m["water_g"] - m["evaporated_g"]) * T / (1 - T) / m["dose_g"]


def retained(m: Masses) -> float:
    return m["water_g"] - m["evaporated_g"] - m["beverage_g"] * (1 - T)


def frame(m: Masses, balance: str, *, after: bool = False, **columns: float) -> pl.DataFrame:
    ratios = {
        "beverage_ratio": m["beverage_g"] / m["dose_g"],
        "water_ratio": m["water_g"] / m["dose_g"],
        "total_water_ratio": (m["water_g"] + m["bypass_g"]) / m["dose_g"],
    }
    return pl.DataFrame(
        [{**m, **ratios, "tds_pct": 100 * T, "balance_used": balance, "bypass_before_reading": after, **columns}]
    )


def differences(of: Callable[[Masses], float], m: Masses) -> dict[str, float]:
    step = 1e-4
    return {name: (of(m | {name: m[name] + step}) - of(m | {name: m[name] - step})) / (2 * step) for name in m}


def agree(found: dict[str, np.ndarray], expected: dict[str, float]) -> None:
    assert found.keys() <= expected.keys()
    for name, slope in expected.items():
        assert float(found.get(name, np.zeros(1))[0]) == pytest.approx(slope, rel=1e-6, abs=1e-9), name


@pytest.mark.parametrize("after", [False, True])
def test_a_percolation_yield_moves_with_dose_and_beverage_alone(after: bool) -> None:
    brews = frame(PERCOLATION, "percolation", after=after, extraction_yield_pct=percolated(PERCOLATION, after=after))
    expected = differences(lambda m: percolated(m, after=after), PERCOLATION) | {"bypass_g": 0.0}
    agree(weighed_slopes(brews, "extraction_yield_pct"), expected)


def test_an_immersion_yield_moves_with_dose_and_the_water_that_stayed() -> None:
    brews = frame(IMMERSION, "immersion", extraction_yield_pct=steeped(IMMERSION))
    agree(weighed_slopes(brews, "extraction_yield_pct"), differences(steeped, IMMERSION))


@pytest.mark.parametrize("column", ["beverage_ratio", "water_ratio", "total_water_ratio"])
def test_ratios_move_with_their_masses_and_the_dose(column: str) -> None:
    def ratio(m: Masses) -> float:
        return float(frame(m, "percolation")[column][0])

    agree(weighed_slopes(frame(PERCOLATION, "percolation"), column), differences(ratio, PERCOLATION))


@pytest.mark.parametrize("column", ["retained_g", "retained_ratio"])
def test_what_stays_in_the_bed(column: str) -> None:
    def value(m: Masses) -> float:
        return retained(m) / (m["dose_g"] if column == "retained_ratio" else 1.0)

    brews = frame(IMMERSION, "immersion", **{column: value(IMMERSION)})
    agree(weighed_slopes(brews, column), differences(value, IMMERSION))


def test_a_strength_is_not_weighed_and_a_temperature_stands_for_itself() -> None:
    brews = frame(PERCOLATION, "percolation", water_temp_c=93.0)
    assert weighed_slopes(brews, "tds_pct") == {}
    agree(weighed_slopes(brews, "water_temp_c"), {"water_temp_c": 1.0})
