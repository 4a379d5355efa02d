from __future__ import annotations

import numpy as np
import polars as pl
import pytest
import statsmodels.formula.api as smf
from scipy import stats

from analysis.charts.within_coffee import channeled_less_clean


def some_brews(seed: int = 5) -> pl.DataFrame:
    rng = np.random.default_rng(seed)
    coffee = rng.choice(["a", "b", "c"], size=40)
    channeled = rng.random(40) < 0.3
    y = 19 + 1.5 * (coffee == "b") - 2.0 * channeled + rng.normal(0, 0.6 + 0.5 * channeled)
    return pl.DataFrame({"coffee_id": coffee, "channeled": channeled, "y": y})


def test_agrees_with_statsmodels_hc3_with_a_level_per_coffee():
    brews = some_brews()
    fit = smf.ols("y ~ C(coffee_id) + channeled", data=brews.with_columns(pl.col("channeled").cast(int)).to_pandas())
    fit = fit.fit(cov_type="HC3")
    slope, error, df = fit.params["channeled"], fit.bse["channeled"], fit.df_resid

    found = channeled_less_clean(brews)

    assert found.estimate == pytest.approx(slope, rel=1e-9)
    assert found.df == df
    assert found.high - found.estimate == pytest.approx(stats.t.ppf(0.975, df) * error, rel=1e-9)


def test_coffees_without_both_kinds_do_not_count():
    extra = pl.DataFrame({"coffee_id": ["z"] * 6, "channeled": [True] * 6, "y": [3.0] * 6})
    alone, together = channeled_less_clean(some_brews()), channeled_less_clean(pl.concat([some_brews(), extra]))

    assert alone == together


def test_too_few_brews_or_one_deciding_brew_say_nothing():
    few = pl.DataFrame({"coffee_id": ["a"] * 4, "channeled": [True, False, False, True], "y": [1.0, 2, 3, 4]})
    one = pl.DataFrame({"coffee_id": ["a"] * 7, "channeled": [True] + [False] * 6, "y": [1.0, 2, 3, 4, 2, 3, 2]})

    assert channeled_less_clean(few) is None
    assert channeled_less_clean(one) is None
