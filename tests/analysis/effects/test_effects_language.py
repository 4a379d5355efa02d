"""What the sentences may never say, over many invented logs: cause where nothing was randomised, absence where wide."""

from __future__ import annotations

import re
from collections.abc import Callable

import numpy as np
import polars as pl
import pytest

from analysis.effects.estimate import EffectsResult, estimate_effects
from analysis.effects.request import EffectsRequest
from schemas.problem import ProblemError

YIELD = "extraction_yield_pct"
FOUR = ("grind_steps_finer", "water_temp_c", "beverage_ratio", "channeled")
CAUSE = re.compile(r"\bcaus(e|es|ed|al|ing)\b|\bbecause of\b|\bdue to\b|\bleads? to\b|\bthanks to\b", re.IGNORECASE)
ABSENCE = re.compile(
    r"\bno (effect|influence|difference|impact)\b|\bdoes(n't| not) matter\b|\bnot significant\b|\bmakes no\b"
    r"|\bhas no\b|\bhave no\b|\bunaffected\b",
    re.IGNORECASE,
)
SCOPES = ("for this coffee", "for these coffees", "for coffees like these")
MADE = 40


def _log(make_facts: Callable[..., pl.DataFrame], seed: int) -> tuple[pl.DataFrame, EffectsRequest]:
    """Any of one to nine coffees, one or two grinders, sessions or none, effects or none, much scatter or little."""
    rng = np.random.default_rng([20261125, seed])
    n, coffees = int(rng.integers(14, 90)), int(rng.integers(1, 10))
    coffee, grinder = rng.integers(coffees, size=n), rng.integers(rng.integers(1, 3), size=n)
    grind = rng.integers(-3, 4, size=n).astype(float)
    temp, ratio = np.round(rng.normal(93, 1.5, n), 1), np.round(rng.normal(2.1, 0.2, n), 2)
    channeled = rng.random(n) < rng.choice([0.1, 0.3, 0.5])
    size = rng.choice([0.0, 0.3, 1.0])
    y = 20 + rng.normal(size=coffees)[coffee] + size * (0.4 * grind - 0.1 * grind**2 + 0.1 * (temp - 93) - channeled)
    y += rng.choice([0.1, 0.6, 3.0]) * rng.normal(size=n)
    session = np.sort(rng.integers(rng.integers(1, 12), size=n))
    facts = make_facts(
        n,
        coffee_id=[f"c{k}" for k in coffee],
        grinder_id=[f"g{k}" for k in grinder],
        session_id=[f"s{k}" for k in session] if seed % 2 else [None] * n,
        operator=[f"o{k}" for k in rng.integers(rng.integers(1, 5), size=n)] if seed % 3 else [None] * n,
        method=["espresso", "pour_over"][seed % 5 == 0 :][:1] * n,
        grind_steps_finer=grind,
        water_temp_c=temp,
        beverage_ratio=ratio,
        channeled=[bool(value) for value in channeled],
        extraction_yield_pct=y,
    )
    factors = tuple(name for name in FOUR if rng.random() < 0.75) or FOUR[:1]
    curves = tuple(name for name in factors if name != "channeled" and rng.random() < 0.4)
    crosses = (":".join(factors[:2]),) if len(factors) > 1 and rng.random() < 0.3 else ()
    return facts, EffectsRequest(YIELD, factors, curves=curves, crosses=crosses)


@pytest.fixture(scope="module")
def answers(make_facts) -> list[EffectsResult | str]:
    """Results, and refusals in words."""
    found: list[EffectsResult | str] = []
    for seed in range(MADE):
        facts, request = _log(make_facts, seed)
        try:
            found.append(estimate_effects(facts, request, whole_plot=("water_temp_c",) if seed % 7 == 0 else ()))
        except ProblemError as problem:
            found.append(str(problem))
    return found


def _said(answer: EffectsResult | str) -> list[str]:
    if isinstance(answer, str):
        return [answer]
    tops = [top.sentence for top in answer.tops]
    return [*answer.sentences, *answer.coffee_sentences, *tops, *answer.notes, answer.model, answer.dropped]


def test_most_logs_are_answered_and_every_kind_of_answer_is_among_them(answers):
    results = [one for one in answers if isinstance(one, EffectsResult)]

    assert len(results) > 0.7 * MADE
    assert {one.scope for one in results} == set(SCOPES)
    widths = [row["low"] <= 0 <= row["high"] for one in results for row in one.table.iter_rows(named=True)]
    assert 50 < sum(widths) < len(widths) - 50
    assert {top.kind for one in results for top in one.tops} >= {"inside", "not settled"}


def test_nothing_says_cause_or_absence(answers):
    for said in (text for answer in answers for text in _said(answer)):
        assert not CAUSE.search(said), said
        assert not ABSENCE.search(said), said


def test_the_patterns_find_what_they_are_for():
    for said in ("grind caused it", "this is because of the heat", "higher due to grind", "it leads to more"):
        assert CAUSE.search(said)
    for said in ("temperature has no effect", "it does not matter", "no influence here", "there is no difference"):
        assert ABSENCE.search(said)


def test_every_sentence_has_unit_interval_n_and_scope(answers):
    for one in answers:
        if isinstance(one, str):
            continue
        for said, row in zip(one.sentences, one.table.iter_rows(named=True), strict=True):
            assert re.search(r", 95 % interval -?[\d.]+ to -?[\d.]+, \d+ brews? of \d+ coffees?, for ", said), said
            assert any(scope in said for scope in SCOPES)
            assert f" {row['unit']}" in said
            if row["step"] is not None and row["low"] <= 0 <= row["high"]:
                assert "the interval includes zero, so these brews do not settle" in said
            if one.n_coffees < 5:
                assert "coffees like these" not in said
        for said in one.coffee_sentences:
            assert re.search(r", 95 % interval -?[\d.]+ to -?[\d.]+, \d+ brews?, for this coffee$", said), said
