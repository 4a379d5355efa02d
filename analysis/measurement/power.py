"""From the uncertainty of a difference to the smallest difference that is worth talking about."""

from __future__ import annotations

import math

from scipy.special import nctdtrinc, ndtri

from analysis.measurement.component import LEVEL, coverage_factor, whole_df

POWER = 0.8


def critical_difference(u: float, df: float, *, level: float = LEVEL) -> float:
    """What two results of one and the same coffee exceed in 5 % of cases: 1.96 u, Student's t where df is small.

    >>> round(critical_difference(1.0, math.inf), 2), round(critical_difference(1.0, 10), 2)
    (1.96, 2.23)
    """
    return coverage_factor(df, level=level) * u


def detectable_difference(u: float, df: float, *, level: float = LEVEL, power: float = POWER) -> float:
    """A true difference that exceeds the critical one in 80 % of cases: 2.80 u, by the non-central t where df is small.

    The far tail is left out: at this power it adds less than a millionth.

    >>> round(detectable_difference(1.0, math.inf), 2), round(detectable_difference(1.0, 10), 2)
    (2.8, 3.11)
    """
    factor = coverage_factor(df, level=level)
    if math.isinf(df):
        return (factor + float(ndtri(power))) * u
    return float(nctdtrinc(whole_df(df), 1 - power, factor)) * u
