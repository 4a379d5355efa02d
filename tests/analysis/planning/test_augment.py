"""Brews added to brews: what moved together comes apart, and the promise is the one a calculation by hand makes."""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
import polars as pl
import pytest
from scipy import stats

sys.path.insert(0, str(Path(__file__).parent))

from plans import GRIND, RATIO, TEMP, asked

from analysis.planning.augment import augment, brewed_rows
from analysis.planning.noise import given_noise
from analysis.planning.words import added_sentences, cannot_sentences
from schemas.problem import ProblemError

NOISE = given_noise(0.5, "extraction_yield_pct")


def dial_in_log(n: int = 30, *, seed: int = 3) -> pl.DataFrame:
    """An invented log in which grind and ratio were moved together."""
    rng = np.random.default_rng(seed)
    grind = rng.choice([-2.0, -1.0, 0.0, 1.0, 2.0], n)
    return pl.DataFrame(
        {
            "brew_id": [f"b-{k}" for k in range(n)],
            "coffee_id": ["ostrin"] * (n // 2) + ["calmuth"] * (n - n // 2),
            "grind_steps_finer": grind,
            "beverage_ratio": 2.1 + 0.1 * grind + rng.choice([0.0, 0.0, 0.1], n),
            "session": [f"s{k * 4 // n}" for k in range(n)],
        }
    )


@pytest.fixture(scope="module")
def added():
    request = asked(GRIND, RATIO, design="optimal", n_runs=8)
    return augment(request, dial_in_log(), NOISE, rng=np.random.default_rng(1), difference=0.5)


def test_grind_and_ratio_come_apart(added) -> None:
    (pair,) = added.pairs

    assert pair.before > 0.9
    assert abs(pair.after) < 0.2
    # The new brews run against the old ones: fine with a short ratio, coarse with a long one.
    assert {run.settings for run in added.plan.runs} == {(2.0, 1.8), (-2.0, 2.4)}


def test_the_standard_errors_are_those_of_all_brews_together(added) -> None:
    log = dial_in_log()
    rows = [
        (c, s, g, r) for c, s, g, r in log.select("coffee_id", "session", "grind_steps_finer", "beverage_ratio").rows()
    ]
    new = [(run.coffee_id, f"new {run.session}", *run.settings) for run in added.plan.runs]
    for brews, tells in ((rows, added.before), (rows + new, added.after)):
        grind = np.array([row[2] / 2 for row in brews])
        ratio = np.array([(row[3] - 2.1) / 0.3 for row in brews])
        coffees, sessions = ([row[k] for row in brews] for k in (0, 1))
        levels = [[float(c == one) for c in coffees] for one in sorted(set(coffees))]
        levels += [[float(s == one) for s in sessions] for one in sorted(set(sessions))]
        x = np.column_stack([grind, ratio, *levels])
        covariance = 0.25 * np.linalg.pinv(x.T @ x)
        assert tells[0].std_error == pytest.approx(2 * np.sqrt(covariance[0, 0]), rel=1e-6)
        assert tells[1].std_error == pytest.approx(2 * np.sqrt(covariance[1, 1]), rel=1e-6)
        assert tells[0].rests_on == len(brews) - np.linalg.matrix_rank(x)
    assert added.after[0].inflation < 1.1 < 5 < added.before[0].inflation


def test_it_is_told_in_sentences_with_numbers_before_and_after(added) -> None:
    said = added_sentences(added, "extraction_yield_pct")

    before, after = added.before[0], added.after[0]
    assert "moved together (r = 0.9" in said[0]
    # One step finer is a quarter of the range from 2 coarser to 2 finer.
    assert f"±{before.half_width / 4:.2f}" in said[1]
    assert f"±{after.half_width / 4:.2f} points" in said[1]
    assert said[1].startswith("After 8 more brews the 95 % interval of one step finer would be about")
    critical = stats.t.ppf(0.975, after.rests_on)
    assert after.half_width == pytest.approx(critical * after.std_error)


def test_settings_that_never_varied_are_said_not_to_be_told_yet() -> None:
    still = dial_in_log().with_columns(water_temp_c=pl.lit(93.0))

    added = augment(asked(GRIND, TEMP, design="optimal", n_runs=6), still, NOISE, rng=np.random.default_rng(1))

    assert added.before is None
    assert added.after is not None
    said = added_sentences(added, "extraction_yield_pct")
    assert said[0] == "The 30 brews made so far cannot tell all of this apart."
    assert "cannot be told now" in said[-1]


def test_only_whole_brews_of_the_method_and_coffees_are_built_on() -> None:
    n = 4
    facts = pl.DataFrame(
        {
            "brew_id": ["a", "b", "c", "d"],
            "coffee_id": ["ostrin", "ostrin", "ostrin", "pirolo"],
            "method": ["espresso", "espresso", "pour_over", "espresso"],
            "is_void": [False, True, False, False],
            "grind_steps_finer": [0.0] * n,
            "session_id": [None] * n,
            "brewed_at": pl.Series(["2026-05-04 09:00"] * n).str.to_datetime(),
        }
    )

    rows = brewed_rows(facts, [GRIND], method="espresso", coffees=["ostrin"])

    assert rows.rows() == [("a", "ostrin", 0.0, "2026-05-04")]
    with pytest.raises(ProblemError, match="Plan from nothing"):
        augment(asked(GRIND, design="optimal", n_runs=4), rows.clear(), NOISE, rng=np.random.default_rng(1))
    with pytest.raises(ProblemError, match="water_temp_c is not known of any brew"):
        brewed_rows(facts, [TEMP], method="espresso", coffees=["ostrin"])


def test_what_comes_apart_with_the_brews_made_is_not_called_together() -> None:
    """Chosen to mend a log in which both rose together, the new brews alone have them opposed."""
    log = dial_in_log(60)
    found = augment(asked(GRIND, RATIO, design="optimal", n_runs=8), log, NOISE, rng=np.random.default_rng(1))
    settings = np.array([run.settings[:2] for run in found.plan.runs])
    assert np.corrcoef(settings.T)[0, 1] < -0.5

    assert any("move together in this plan" in text for text in cannot_sentences(found.plan, found.after))
    assert not any("together in this plan" in text for text in cannot_sentences(found.plan, found.after, alone=False))
