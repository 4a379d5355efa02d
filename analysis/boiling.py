"""Where water boils at a given altitude."""

from __future__ import annotations

import math

SEA_LEVEL_PA = 101_325.0
SEA_LEVEL_K = 288.15
LAPSE_K_PER_M = 0.0065
GRAVITY_M_S2 = 9.80665
AIR_KG_PER_MOL = 0.0289644
GAS_CONSTANT = 8.31432
"""US Standard Atmosphere 1976, which keeps its own gas constant (J/(mol K)); valid to 11 km."""

IF97_REGION_4 = (
    0.11670521452767e4,
    -0.72421316703206e6,
    -0.17073846940092e2,
    0.12020824702470e5,
    -0.32325550322333e7,
    0.14915108613530e2,
    -0.48232657361591e4,
    0.40511340542057e6,
    -0.23855557567849,
    0.65017534844798e3,
)
"""Coefficients of the saturation line, IAPWS-IF97 region 4."""


def air_pressure_pa(altitude_m: float) -> float:
    """Mean air pressure at an altitude, US Standard Atmosphere 1976.

    >>> round(air_pressure_pa(1000.0), 1)
    89874.6
    """
    exponent = GRAVITY_M_S2 * AIR_KG_PER_MOL / (GAS_CONSTANT * LAPSE_K_PER_M)
    return SEA_LEVEL_PA * math.pow(1 - LAPSE_K_PER_M * altitude_m / SEA_LEVEL_K, exponent)


def saturation_c(pressure_pa: float) -> float:
    """Temperature at which water boils under a pressure: the backward equation of IAPWS-IF97 region 4.

    >>> round(saturation_c(101_325.0), 3)
    99.974
    """
    n1, n2, n3, n4, n5, n6, n7, n8, n9, n10 = IF97_REGION_4
    beta = math.pow(pressure_pa / 1e6, 0.25)
    e = beta * beta + n3 * beta + n6
    f = n1 * beta * beta + n4 * beta + n7
    g = n2 * beta * beta + n5 * beta + n8
    d = 2 * g / (-f - math.sqrt(f * f - 4 * e * g))
    kelvin = (n10 + d - math.sqrt((n10 + d) ** 2 - 4 * (n9 + n10 * d))) / 2
    return kelvin - 273.15


def boiling_point_c(altitude_m: float) -> float:
    """Temperature at which water boils in the open at an altitude, in mean weather.

    >>> round(boiling_point_c(1500.0), 2)
    94.98
    """
    return saturation_c(air_pressure_pa(altitude_m))
