"""Intervals of a gauge study against closed forms in R, and how often they hold the truth."""

from __future__ import annotations

import polars as pl
import pytest
from scipy import stats

from analysis.measurement.gauge_intervals import mls_bounds, share_bounds
from analysis.measurement.gauge_mixed import MixedComponents
from analysis.measurement.gauge_spreads import spreads_of
from analysis.measurement.gauge_squares import mean_squares
from analysis.measurement.gauge_table import gauge_table
from tests.reference.gauge.cases import case_frame, expected
from tests.reference.gauge.coverage import DESIGNS, HERE, TRUTHS, coverage

AT_LEAST = 0.92
SAME_SEED = 0.002  # the same draws; a last digit of a quantile may move a run or two on another machine


def squares(case):
    table = gauge_table(case_frame(case))
    return mean_squares(table, table.tds_pct, with_interaction=True)


@pytest.mark.parametrize("case", ["aiag", "invented"])
def test_intervals_match_the_closed_forms_in_r(case):
    found = squares(case)
    bounds = {name: mls_bounds(weights, found) for name, weights in found.weights().items()}

    for end in ("low", "high"):
        stated = expected(f"{case} with", end)
        del stated["gauge_share"]
        ours = {name: float(getattr(bound, end)[0]) for name, bound in bounds.items()}
        assert ours == pytest.approx(stated, rel=1e-7)


def test_one_mean_square_has_the_exact_chi_square_interval():
    found = squares("invented")
    bounds = mls_bounds(found.weights()["repeatability"], found, level=0.9)

    sum_of_squares, df = found.squares[3, 0], found.df[3]
    assert bounds.low[0] == pytest.approx(sum_of_squares / stats.chi2.ppf(0.95, df))
    assert bounds.high[0] == pytest.approx(sum_of_squares / stats.chi2.ppf(0.05, df))


@pytest.mark.parametrize("case", ["aiag", "invented"])
def test_the_interval_of_the_share_is_near_the_closed_form(case):
    found = squares(case)
    weights = found.weights()
    bounds = share_bounds(weights["gauge"], weights["total"], found)

    assert bounds.low[0] == pytest.approx(expected(f"{case} with", "low")["gauge_share"], abs=0.02)
    assert bounds.high[0] == pytest.approx(expected(f"{case} with", "high")["gauge_share"], abs=0.02)


@pytest.mark.slow
@pytest.mark.parametrize("truth", TRUTHS)
@pytest.mark.parametrize("design", DESIGNS)
def test_intervals_hold_the_truth_as_the_committed_table_says(design, truth):
    table = pl.read_csv(HERE / "coverage.csv").filter(design=design, truth=truth)
    committed = {(rule, name): rate for rule, name, rate in table.select("rule", "quantity", "coverage").rows()}

    measured = coverage(design, truth)

    assert min(measured.values()) >= AT_LEAST
    assert measured == pytest.approx(committed, abs=SAME_SEED)


def test_an_estimate_outside_its_interval_stretches_it_and_says_so():
    found = squares("invented")
    far = {"repeat": 4e-5, "brew": 2e-3, "reader": 0.5, "interaction": 3e-5}
    mixed = MixedComponents(variance=far, zero=(), mean=1.35, mean_se=0.02, criterion=0.0)

    spreads = spreads_of(found, mixed, balanced=False, level=0.95)

    assert spreads["reader"].high == 0.5
    assert spreads["reader"].interval.endswith("stretched to the estimate of the mixed model")
    assert spreads["reader"].low == pytest.approx(expected("invented with", "low")["reader"], rel=1e-7)
    assert "stretched" not in spreads["brew_to_brew"].interval
    assert spreads["reader"].sd_high == pytest.approx(0.5**0.5)
    assert spreads["reader"].sd_low == pytest.approx(spreads["reader"].low ** 0.5)
