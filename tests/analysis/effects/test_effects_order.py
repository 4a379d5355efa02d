"""Drift within a session and likeness of neighbours: found, taken out, said; and left alone where there is none."""

from __future__ import annotations

import numpy as np
import polars as pl
import pytest
from scipy import stats

from analysis.effects.estimate import estimate_effects
from analysis.effects.request import EffectsRequest
from analysis.effects.session_order import find_order, likeness
from analysis.mixed.serial import Serial, session_serial

YIELD = "extraction_yield_pct"


def _sessions(make_facts, *, drift: float = 0.0, rho: float = 0.0, seed: int = 1, **more) -> pl.DataFrame:
    """Eight sessions of ten brews of four coffees; AR(1) scatter of 0.4, a drift per brew, grind worth 0.4 a step."""
    rng = np.random.default_rng(seed)
    session, place = np.repeat(np.arange(8), 10), np.tile(np.arange(10), 8)
    scatter = np.zeros(80)
    for k in range(80):
        fresh = rng.normal() * np.sqrt(1 - rho**2) if place[k] else rng.normal()
        scatter[k] = (rho * scatter[k - 1] if place[k] else 0.0) + fresh
    grind, coffee = rng.integers(-2, 3, size=80).astype(float), rng.integers(4, size=80)
    y = 20 + 0.4 * grind + rng.normal(size=4)[coffee] + drift * place + 0.4 * scatter
    return make_facts(
        80,
        coffee_id=[f"c{k}" for k in coffee],
        session_id=[f"s{k}" for k in session],
        grind_steps_finer=grind,
        extraction_yield_pct=y,
        **more,
    )


def _ask(facts: pl.DataFrame, *factors: str):
    return estimate_effects(facts, EffectsRequest(YIELD, factors or ("grind_steps_finer",)))


def test_a_drift_is_found_taken_out_and_said_with_its_interval(make_facts):
    facts = _sessions(make_facts, drift=-0.1)
    still = _sessions(make_facts)  # the same scatter without the drift
    result = _ask(facts)

    (note,) = [note for note in result.notes if "drifts" in note]
    assert note.startswith(f"{YIELD} drifts within a session: -0.1")
    assert note.endswith("The effects are stated with that taken out.")
    # The drift adds nothing to the scatter once it is taken out.
    assert result.sigma == pytest.approx(_ask(still).sigma, rel=0.05)
    assert result.table["term"].to_list() == ["grind_steps_finer", "intercept"]


def test_neighbours_that_resemble_each_other_are_allowed_for(make_facts):
    result = _ask(_sessions(make_facts, rho=0.7, seed=3))

    (note,) = [note for note in result.notes if "resemble" in note]
    rho = float(note.partition("(correlation ")[2].split()[0])
    assert 0.4 < rho < 0.9
    assert "72 pairs" in note  # eight sessions of nine steps


@pytest.mark.parametrize("rho", [0.0, 0.3, -0.4])
def test_the_closed_form_is_what_shuffling_within_sessions_gives(make_facts, rho):
    """Against 20,000 shuffles of sessions of unequal length, some too short to count."""
    facts = _sessions(make_facts, rho=rho, seed=8).filter(pl.int_range(pl.len()) % 7 != 3).head(62)
    order = find_order(facts)
    assert order is not None
    residual = facts[YIELD].to_numpy()
    found = likeness(residual, order)
    shuffled = session_serial(residual, order.session, order.place, rng=np.random.default_rng(7), shuffles=20_000)

    assert found is not None
    assert isinstance(shuffled, Serial)
    assert (found.lag_one, found.n_pairs) == (pytest.approx(shuffled.lag_one, rel=1e-12), shuffled.n_pairs)
    assert found.p_value == pytest.approx(shuffled.p_value, abs=0.02)


def test_three_brews_have_their_mean_square_by_hand(make_facts):
    """Sessions -1, 0, 1 in some order: sums of products -1, 0 or 0, 0, -1, -1: mean -2/3, variance 2/9.

    The six orders of (-1, 0, 1): 0 for the two with 0 in the middle, -1 for the four with it at an end.
    """
    n = 30
    facts = make_facts(n, session_id=[f"s{k // 3}" for k in range(n)], extraction_yield_pct=[20.0] * n)
    order = find_order(facts)
    assert order is not None
    found = likeness(np.tile([-1.0, 0.0, 1.0], 10), order)
    assert found is not None

    z = (0 - 10 * -2 / 3) / np.sqrt(10 * 2 / 9)
    assert found.p_value == pytest.approx(2 * stats.norm.sf(z), rel=1e-12)


def test_brews_without_order_effects_need_no_note(make_facts):
    found = [_ask(_sessions(make_facts, seed=seed)).notes for seed in range(40)]
    said = sum(any("drifts" in note or "resemble" in note for note in notes) for notes in found)

    assert said <= 9  # two tests at 5 %: 4 of 40 expected, 10 or more once in 300 times


def test_order_as_a_factor_is_not_taken_out_twice(make_facts):
    facts = _sessions(make_facts, drift=-0.1, run_order=list(range(1, 11)) * 8)
    result = _ask(facts, "grind_steps_finer", "run_order")

    assert not any("drifts" in note for note in result.notes)
    assert result.table.filter(term="run_order")["high"].item() < 0


def test_a_run_order_keeps_the_gap_of_a_brew_left_out(make_facts):
    facts = _sessions(make_facts, run_order=list(range(1, 11)) * 8).filter(pl.int_range(pl.len()) != 4)
    order = find_order(facts)
    assert order is not None

    assert order.place[:5].tolist() == [1, 2, 3, 4, 6]
    twice = find_order(facts.with_columns(run_order=1))
    assert twice is not None
    assert twice.place[:5].tolist() == [0, 1, 2, 3, 4]


def test_days_stand_in_for_sessions_and_few_brews_are_not_judged(make_facts):
    facts = _sessions(make_facts).with_columns(brewed_on=pl.col("brewed_at").dt.date())
    by_day = find_order(facts.with_columns(session_id=pl.lit(None, pl.String)))

    assert by_day is not None
    assert by_day.word == "day"
    assert find_order(facts.head(19)) is None
    assert find_order(facts.with_columns(session_id=pl.lit(None, pl.String), brewed_on=pl.lit(None, pl.Date))) is None
