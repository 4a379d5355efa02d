"""What the demo lab says of its own instruments and weights comes out as the generator put it in.

As for the effects, four standard errors leave a right estimate out once in some 10,000; the seed was fixed before
anything was estimated.
"""

from __future__ import annotations

import json
from math import sqrt

import polars as pl
import pytest

from analysis.measurement.agreement import Agreement
from analysis.measurement.gauge import GaugeStudy, gauge_study
from analysis.measurement.gauge_table import study_readings
from pipeline.measurement.agreement_report import compared
from pipeline.measurement.gather import Gathered, gather
from pipeline.measurement.weighing_report import closure_of
from tests.demo.ingested import DEMO, Ingested

TRUTH = json.loads((DEMO / "truth.json").read_text(encoding="utf-8"))
MEASURED = TRUTH["measured"]
STANDARD_ERRORS = 4
Z, T_35 = 1.96, 2.030
"""Quantiles at 97.5 %: normal, and Student's t with 35 degrees of freedom, as printed in tables."""


@pytest.fixture(scope="module")
def gathered(demo: Ingested) -> Gathered:
    return gather(demo.store, demo.manifest, demo.settings)


@pytest.fixture(scope="module")
def lenses(gathered: Gathered) -> Agreement:
    (pair,) = [one for one in compared(gathered) if (one.a, one.b) == ("lens-1", "lens-2")]
    assert isinstance(pair, Agreement)
    return pair


@pytest.fixture(scope="module")
def study(gathered: Gathered) -> GaugeStudy:
    brews = gathered.brews.filter(pl.col("study_id") == MEASURED["gauge"]["study_id"])["brew_id"]
    read = gathered.readings.filter(pl.col("brew_id").is_in(brews.to_list()))
    used = study_readings(read, instrument_id=MEASURED["gauge"]["instrument_id"])
    assert used.left_out == ()
    return gauge_study(used.frame, display_step_pct=0.01)


def test_the_gap_of_the_two_refractometers_is_the_one_they_have(lenses: Agreement) -> None:
    truth = MEASURED["lens_2_less_lens_1"]
    assert lenses.n_brews == truth["n_brews"] >= 30
    assert max(lenses.pairs.x_pct) - min(lenses.pairs.x_pct) > 8  # from filter to espresso
    error = (lenses.bias.high - lenses.bias.low) / 2 / T_35
    assert 0 < error < 0.01
    assert abs(lenses.bias.value - truth["mean_pct"]) < STANDARD_ERRORS * error


def test_their_limits_hold_the_gaps_of_single_readings(lenses: Agreement) -> None:
    truth = MEASURED["lens_2_less_lens_1"]
    for side, limit in ((-1, lenses.lower), (1, lenses.upper)):
        error = (limit.high - limit.low) / 2 / Z
        assert 0 < error < 0.02
        assert abs(limit.value - (truth["mean_pct"] + side * Z * truth["sd_of_single_pct"])) < STANDARD_ERRORS * error


def test_lens_2_drifts_as_fast_as_it_does(gathered: Gathered) -> None:
    (record,) = [one for one in gathered.records() if one.instrument.instrument_id == "lens-2"]
    drift = record.reference_drift
    assert drift is not None
    assert drift.low <= TRUTH["lens_2_drift_pct_per_week"] <= drift.high


def test_the_gauge_study_finds_repeatability_and_reproducibility(study: GaugeStudy) -> None:
    truth = MEASURED["gauge"]
    assert (study.n_brews, study.n_readers, study.n_readings) == (truth["n_brews"], len(truth["readers"]), 90)
    assert study.balanced
    for name in ("repeatability", "reproducibility"):
        spread = study.spreads[name]
        assert spread.sd_low is not None
        assert spread.sd_high is not None
        assert spread.sd_low <= truth[f"{name}_pct"] <= spread.sd_high


def test_readers_of_the_gauge_study_do_not_widen_the_scatter_of_readings(gathered: Gathered) -> None:
    of_study = gathered.brews.filter(pl.col("study_id") == MEASURED["gauge"]["study_id"])["brew"].to_list()
    (scatter,) = {group["scatter_pct"] for brew in of_study for group in gathered.groups[brew]}  # one pool
    # 64 degrees of freedom: four standard errors of a standard deviation are 4 / sqrt(128) of it.
    truth = MEASURED["gauge"]["repeatability_pct"]
    assert abs(scatter - truth) < STANDARD_ERRORS * truth / sqrt(128)
    read = gathered.readings.filter(pl.col("brew").is_in(of_study))["brew", "strength_pct"]
    mixed = sum(9 * part["strength_pct"].var(ddof=0) for _, part in read.group_by("brew")) / 80
    assert scatter < sqrt(mixed)


def test_the_gauge_study_ran_in_a_random_order(gathered: Gathered) -> None:
    read = gathered.readings.filter(pl.col("read_by").is_not_null()).sort("read_at")
    assert read["read_at"].is_unique().all()
    followed_by_itself = (read["read_by"] == read["read_by"].shift(1)).sum()
    assert 15 <= followed_by_itself <= 45  # about a third of 89, as three readers in random order give
    rounds = read["brew_id"].to_list()
    assert rounds[:30] != rounds[30:60] != rounds[60:]


def test_an_oven_finds_the_strengths_that_were_there(gathered: Gathered) -> None:
    drying, truth = gathered.drying(), MEASURED["dried_strength_pct"]
    assert {one.brew_id for one in drying.brews} == set(truth)
    assert not drying.refused
    inside = 0
    for one in drying.brews:
        assert one.budget is not None
        assert abs(one.tds_pct - truth[one.brew_id]) < STANDARD_ERRORS * one.budget.u
        inside += one.budget.low <= truth[one.brew_id] <= one.budget.high
    assert inside >= 9  # of 11; fewer would happen once in 600 times


def test_dried_samples_serve_as_reference_checks(gathered: Gathered) -> None:
    checks = gathered.checks().filter(pl.col("oven") == "oven-1")
    per_lens = dict(checks.group_by("instrument_id").len().iter_rows())
    assert per_lens == dict.fromkeys(("lens-1", "lens-2"), len(MEASURED["dried_strength_pct"]))
    assert (checks["reference_u"] > 0).all()


@pytest.mark.parametrize("method", ["pour_over", "espresso"])
def test_weights_add_up_to_what_was_lost(gathered: Gathered, method: str) -> None:
    (found,) = [one for one in closure_of(gathered).methods if one.method == method]
    truth = MEASURED["unaccounted_for"][method]
    assert found.n_brews == truth["n_brews"] >= 20
    assert found.low_g is not None
    assert found.high_g is not None
    error = (found.high_g - found.low_g) / 2 / T_35
    assert 0 < error < 0.2
    assert abs(found.mean_g - truth["lost_g"]) < STANDARD_ERRORS * error


def test_the_one_weight_that_was_written_wrongly_is_found(gathered: Gathered) -> None:
    suspects = {one.brew_id for one in closure_of(gathered).suspects if one.evidence == "mass balance"}
    assert suspects == {MEASURED["unaccounted_for"]["weighing_error"]}
