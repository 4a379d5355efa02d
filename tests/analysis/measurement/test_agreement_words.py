"""What a comparison says: number, interval, n, range, and the plain reason where there is nothing to say."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import polars as pl
import pytest

from analysis.measurement.agreement import Agreement, NotCompared, compare_instruments
from analysis.measurement.agreement_words import (
    agreement_sentence,
    agreement_sentences,
    line_sentence,
    prediction_words,
    verdict,
)

SCHEMA = {"brew_id": pl.String, "instrument_id": pl.String, "sample_no": pl.Int64, "strength_pct": pl.Float64}


def study(*, gap=0.0, slope=1.0, n=12, u=None, low=1.2, high=1.5) -> Agreement:
    """Readings without chance: R2 is off its line by +0.01 and -0.01 in turn, repeats of both by 0.01."""
    rows = []
    for i, truth in enumerate(np.linspace(low, high, n)):
        off = 0.01 if i % 4 in (0, 3) else -0.01
        rows += [(f"b{i:02}", "R1", 1, truth + d) for d in (-0.005, 0.005)]
        rows += [(f"b{i:02}", "R2", 1, slope * truth + gap + off + d) for d in (-0.005, 0.005)]
    readings = pl.DataFrame(rows, schema=SCHEMA, orient="row").with_columns(is_void=pl.lit(False))
    instruments = pl.DataFrame(
        {"instrument_id": ["R1", "R2"], "resolution": [0.01, 0.01], "standard_uncertainty": [u, u]}
    )
    return compare_instruments(readings, instruments.cast({"standard_uncertainty": pl.Float64}), "R1", "R2")


def test_a_gap_is_said_with_interval_range_brews_and_readings():
    said = agreement_sentence(study(gap=0.05))

    assert said.startswith("R2 reads 0.050 % TDS higher than R1 on average (95 % interval +0.04")
    assert "of one sample, 95 in 100 single readings on R2 differ from one on R1 by +0.0" in said
    assert re.search(r"not shown to change with strength \(slope 1\.00\d, 95 % interval 0\.9\d\d to 1\.\d{3}\)", said)
    assert said.endswith("based on 12 brews from 1.23 to 1.53 % TDS, 24 readings on R1 and 24 readings on R2.")


def test_no_gap_is_not_called_agreement():
    said = agreement_sentence(study())

    assert said.startswith("No gap shown between R2 and R1: 0.000 % TDS on average (95 % interval -0.0")


def test_lower_is_said_without_a_minus():
    assert agreement_sentence(study(gap=-0.05)).startswith("R2 reads 0.050 % TDS lower than R1")


@pytest.mark.parametrize(
    ("gap", "slope", "words"),
    [(-1.1, 2.0, "the gap grows with strength"), (-1.6, 2.0, "shrinks with"), (-1.35, 2.0, "changes its sign with")],
)
def test_a_slope_that_is_not_one_is_said_as_what_happens_to_the_gap(gap, slope, words):
    """y - x = gap + x over 1.2 to 1.5: 0.1 to 0.4, -0.4 to -0.1, -0.15 to +0.15."""
    assert words in agreement_sentence(study(gap=gap, slope=slope))


@pytest.mark.parametrize(
    ("gap", "tolerance", "expected", "words"),
    [
        (0.0, 0.2, "agree", "One may stand in for the other within 0.200 % TDS either way."),
        (0.3, 0.1, "disagree", "One may not stand in for the other within 0.100 % TDS either way."),
        (0.0, 0.025, "open", "These brews do not settle whether"),
    ],
)
def test_standing_in_is_judged_by_the_limits_intervals(gap, tolerance, expected, words):
    found = study(gap=gap)

    assert verdict(found, tolerance) == expected
    assert any(text.startswith(words) for text in agreement_sentences(found, tolerance_pct=tolerance))


def test_stated_uncertainties_are_held_against_the_gap():
    explained, not_explained = (" ".join(agreement_sentences(study(gap=0.05, u=u))) for u in (0.03, 0.002))

    assert "The uncertainties stated of the two explain the gap" in explained
    assert "The uncertainties stated of the two do not explain the gap" in not_explained
    assert "uncertainties stated" not in " ".join(agreement_sentences(study(gap=0.05)))


def test_the_ratio_of_errors_and_what_it_is_worth_are_told():
    assert "Deming" not in " ".join(agreement_sentences(study()))
    said = line_sentence(study())

    assert "Deming regression with an error ratio of 1.00 (95 % interval 0.4" in said
    assert "repeats of R1 and R2, 12 and 12 degrees of freedom" in said


def test_too_narrow_a_range_is_said_instead_of_a_slope():
    said = agreement_sentence(study(low=1.30, high=1.31))

    assert "no slope: the range is too narrow" in said
    assert "read weaker and stronger brews on both" in said
    in_full = agreement_sentences(study(low=1.30, high=1.31))
    assert any(text.startswith("Whether the gap changes with strength cannot be said: the range") for text in in_full)


def test_predictions_name_their_interval_and_warn_outside_the_range():
    found = study(gap=0.05)

    assert prediction_words(found, 1.3).startswith(
        "Where R1 reads 1.300 % TDS, a single reading on R2 would be 1.350 (95 in 100 such readings: 1.3"
    )
    assert prediction_words(found, 1.8).endswith("; R1 read 1.20 to 1.50 % TDS here, so do not rely on it.")
    assert "cannot be said: the range is too narrow" in prediction_words(study(low=1.30, high=1.31), 1.3)


def test_a_trend_made_by_unequal_scatter_is_called_so():
    rng = np.random.default_rng(4)
    rows = []
    for brew, level in enumerate(rng.normal(1.3, 0.06, 60)):
        rows += [(f"{brew}", "R1", 1, v) for v in rng.normal(level, 0.005, 2)]
        rows += [(f"{brew}", "R2", 1, v) for v in rng.normal(level, 0.05, 2)]
    readings = pl.DataFrame(rows, schema=SCHEMA, orient="row").with_columns(is_void=pl.lit(False))
    instruments = pl.DataFrame({"instrument_id": ["R1"], "resolution": [0.001], "standard_uncertainty": [0.01]})
    found = compare_instruments(readings, instruments, "R1", "R2")
    said = " ".join(agreement_sentences(found))

    of_which = r"of which \+0\.\d{3} is made by the unequal"
    assert re.search(rf"the gap changes by \+0\.\d{{3}} % TDS per % TDS, .*, {of_which}", said)
    assert "; any ratio that these allow gives a slope of" in line_sentence(found)
    assert "No resolution stated for R2: its display step counts as 0." in said


def test_an_exact_instrument_has_no_ratio_and_a_loose_gap_two_decimals():
    x, y = [1.20, 1.25, 1.31, 1.38, 1.44, 1.50], [1.0, 1.4, 1.2, 1.5, 1.3, 1.6]
    once = pl.DataFrame(
        [(f"{i}", name, 1, v) for name, values in (("R1", x), ("R2", y)) for i, v in enumerate(values)],
        schema=SCHEMA,
        orient="row",
    ).with_columns(is_void=pl.lit(False))
    steps = pl.DataFrame({"instrument_id": ["R1", "R2"], "resolution": [0.0, 0.1], "standard_uncertainty": [0.0, 0.0]})
    wide = compare_instruments(pl.concat([once, once]), steps, "R1", "R2")
    y_close = [1.2, 1.3, 1.3, 1.4, 1.4, 1.5]
    near = once.with_columns(strength_pct=pl.Series([*x, *y_close]))
    exact = compare_instruments(pl.concat([near, near]), steps, "R1", "R2")

    assert re.search(r"-0\.\d\d % TDS on average", agreement_sentence(wide))
    assert "error ratio of 0 on R1, which is taken as exact" in line_sentence(exact)


def test_a_refusal_is_its_own_sentence():
    assert agreement_sentence(NotCompared("R1", "R2", "R1 and R2: 0 brews")) == "R1 and R2: 0 brews."


def test_an_interval_that_leaves_out_one_shows_it():
    # Three decimals would print 1.00002 as 1.000: a claim beside an interval that seems to deny it.
    found = study(gap=0.01)
    line = replace(found.line, slope=1.00107, slope_low=1.00002, slope_high=1.00213)
    assert "with strength (slope 1.00107, 95 % interval 1.00002 to 1.00213)" in agreement_sentence(
        replace(found, line=line)
    )
