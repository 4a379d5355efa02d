from __future__ import annotations

import math
import re

import polars as pl
import pytest

from analysis.charts.brews import Z95
from analysis.charts.group_rows import Z50, t_quantile
from analysis.charts.yield_summary import yield_summary

# Student's t, two-sided 95 % and 50 %, as printed in statistical tables (e.g. NIST/SEMATECH 1.3.6.7.2 for 0.975).
TABLED = [(4, 2.776, 0.741), (10, 2.228, 0.700), (30, 2.042, 0.683), (100, 1.984, 0.677)]


def test_mean_and_interval_by_hand():
    # 1 to 5: mean 3, s = sqrt(2.5), t(4) = 2.776, half width 2.776 * 1.58114 / sqrt(5) = 1.963.
    brews = pl.DataFrame({"coffee": ["a"] * 5 + ["b"] * 4, "y": [1.0, 2, 3, 4, 5, 7, 7, 8, 8]})

    a, b = yield_summary(brews, ("coffee",)).iter_rows(named=True)

    assert (a["n"], a["mean"]) == (5, 3.0)
    assert a["sd"] == pytest.approx(math.sqrt(2.5))
    assert (a["low"], a["high"]) == (pytest.approx(3 - 1.963, abs=1e-3), pytest.approx(3 + 1.963, abs=1e-3))
    assert b["n"] == 4
    assert b["low"] is b["high"] is None


def test_brews_without_a_yield_are_not_counted():
    brews = pl.DataFrame({"coffee": ["a", "a"], "y": [20.0, None]})

    assert yield_summary(brews, ("coffee",))["n"].to_list() == [1]


@pytest.mark.parametrize(("df", "t95", "t50"), TABLED)
def test_drawn_quantiles_match_the_tables(df, t95, t50):
    for z, tabled in ((Z95, t95), (Z50, t50)):
        python = re.sub(r"pow\(datum\.n - 1, (\d)\)", rf"({df} ** \1)", t_quantile(z))

        assert eval(python) == pytest.approx(tabled, rel=0.004)  # tables print three decimals; the series is cut short
