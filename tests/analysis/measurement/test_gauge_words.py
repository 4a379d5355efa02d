"""The verdict of a gauge study: the right kind, the numbers behind it, advice that follows from them."""

from __future__ import annotations

import math

import polars as pl
import pytest

from analysis.measurement.gauge import gauge_study
from analysis.measurement.gauge_words import gauge_verdict, share_pct
from tests.reference.gauge.cases import aiag


def study(brews, readers=(0.0, 0.0, 0.0), repeats=(0.0, 0.0), twist=0.0):
    """A frame of brew levels plus reader offsets plus repeats; `twist` tilts the repeats so that cells differ."""
    rows = [
        (f"b{i}", f"r{j}", 1.35 + brew + reader + repeat * (1 + twist * ((i + j) % 2)))
        for i, brew in enumerate(brews)
        for j, reader in enumerate(readers)
        for repeat in repeats
    ]
    return gauge_study(pl.DataFrame(rows, schema=["brew_id", "operator", "tds_pct"], orient="row"))


WIDE = (-0.10, -0.06, -0.02, 0.02, 0.06, 0.10)


def test_the_sentence_tells_gauge_from_coffee_with_interval_and_counts():
    verdict = gauge_verdict(gauge_study(aiag()))

    # 0.302372, 1.042327, 7.76 % and 27.86 %: printed results of the study, check-values.md 2.5.
    assert verdict.sentence.startswith(
        "The gauge spreads by 0.30 % TDS, the coffee by 1.04 % TDS (standard deviations): 8 % of the variance is the "
        "gauge, 92 % the coffee. The gauge makes 28 % of the study variation, 95 % interval"
    )
    assert verdict.sentence.endswith("from 10 brews, 3 readers and 90 readings.")


def test_within_the_limit_but_with_a_wide_interval_one_more_operator_is_advised():
    verdict = gauge_verdict(gauge_study(aiag()))

    assert verdict.kind == "fine_so_far"
    assert "one more operator" in verdict.advice


def test_a_small_gauge_is_fine():
    verdict = gauge_verdict(study(WIDE, repeats=(-0.002, 0.002)))

    assert verdict.kind == "fine"
    assert verdict.advice.startswith("The refractometer is fine")


def test_scattering_repeats_call_for_more_readings_as_many_as_it_takes():
    found = study(WIDE, repeats=(-0.025, 0.025), twist=0.2)
    verdict = gauge_verdict(found)
    repeats, brews = found.spreads["repeatability"].variance, found.spreads["brew_to_brew"].variance

    assert found.spreads["reproducibility"].variance == 0
    n = next(n for n in range(2, 6) if math.sqrt(repeats / n / (repeats / n + brews)) <= 0.30)
    assert verdict.kind == "more_readings"
    assert f"the mean of {n} readings" in verdict.advice


def test_readers_that_differ_are_told_to_agree_and_one_more_operator_is_offered():
    verdict = gauge_verdict(study(WIDE, readers=(-0.03, 0.0, 0.03), repeats=(-0.003, 0.003)))

    assert verdict.kind == "more_readers"
    assert "agree on one way of reading" in verdict.advice
    assert "One more operator for every brew: the mean of 2 readers, reading once each" in verdict.advice


def test_brews_that_hardly_differ_are_too_alike():
    verdict = gauge_verdict(study((-0.004, -0.002, 0.0, 0.002, 0.004), repeats=(-0.02, 0.02)))

    assert verdict.kind == "too_alike"
    assert "differ by up to" in verdict.advice


def test_one_reader_is_named_as_a_gap():
    verdict = gauge_verdict(study(WIDE, readers=(0.0,), repeats=(-0.010, 0.010)))

    assert "one reader, so what another would read is not in it" in verdict.sentence
    assert "at least two readers" in verdict.advice


def test_one_brew_says_nothing_of_the_coffee():
    verdict = gauge_verdict(study((0.0,), readers=(-0.03, 0.0, 0.03), repeats=(-0.005, 0.005)))

    assert verdict.kind == "no_coffee"
    assert "One brew says nothing of how much is the coffee" in verdict.sentence
    assert verdict.advice.startswith("Readers differ more than repeats")


@pytest.mark.parametrize(
    ("plan", "pct"),
    # By hand: gauge = readers / m + repeats / (m n); share = sqrt(gauge / (gauge + brews)).
    [
        ((1, 1), math.sqrt(5 / 25)),
        ((1, 4), math.sqrt(2 / 22)),
        ((2, 1), math.sqrt(2.5 / 22.5)),
        ((2, 2), math.sqrt(1.5 / 21.5)),
    ],
)
def test_what_means_over_readers_and_readings_buy(plan, pct):
    readers, readings = plan

    assert share_pct(4.0, 1.0, 20.0, n_readers=readers, n_readings=readings) == pytest.approx(100 * pct)
