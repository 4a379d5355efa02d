"""Brews that cannot answer: a right answer or a plain refusal, whatever comes in."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import polars as pl
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from analysis.diagnostics.report import Diagnosis, diagnose
from analysis.effects.request import EffectsRequest
from schemas.problem import ProblemError

YIELD = "extraction_yield_pct"
FACTORS = ("grind_steps_finer", "water_temp_c", "beverage_ratio", "channeled")
Facts = Callable[..., pl.DataFrame]


def _diagnosed(facts: pl.DataFrame, *factors: str) -> Diagnosis:
    return diagnose(facts, EffectsRequest(YIELD, factors), rng=np.random.default_rng(1))


def test_one_coffee_speaks_for_that_coffee_alone(make_facts: Facts) -> None:
    rng = np.random.default_rng(1)
    facts = make_facts(
        20, grind_steps_finer=np.tile([-1.0, 0.0, 1.0, 2.0], 5), extraction_yield_pct=20 + rng.normal(size=20)
    )

    found = _diagnosed(facts, "grind_steps_finer")

    assert "for this coffee" in found.verdict
    assert any(
        one.said == "All 20 brews are of one coffee: what they say holds for that coffee alone."
        for one in found.findings
    )


@pytest.mark.parametrize(
    ("given_columns", "said"),
    [
        (
            {"grind_steps_finer": [1.0] * 12},
            "Grind stood at 1 step in all 12 brews of 1 coffee: they say nothing of it.",
        ),
        ({"extraction_yield_pct": [20.0] * 12}, "extraction yield does not vary: it is 20 % in all 12 brews"),
        (
            {"grind_steps_finer": [0.0] * 11 + [1.0]},
            "Grind stood at 0 steps in all but one of 12 brews of 1 coffee: brew b12 alone would carry the whole",
        ),
        (
            {"water_temp_c": (np.arange(12) % 5 + 90.0), "grind_steps_finer": (np.arange(12) % 5) / 2},
            "r = 1.00, 12 brews of 1 coffee: their effects cannot be told apart here, however many more",
        ),
        ({"extraction_yield_pct": 20 + (np.arange(12) % 5) / 2}, "without any scatter, so it looks computed"),
    ],
)
def test_what_stands_in_the_way_is_said(given_columns: dict[str, Any], said: str, make_facts: Facts) -> None:
    rng = np.random.default_rng(2)
    columns: dict[str, Any] = {
        "grind_steps_finer": (np.arange(12) % 5) / 2,
        "water_temp_c": rng.uniform(90, 96, size=12),
        "extraction_yield_pct": 20 + rng.normal(size=12),
    }

    found = _diagnosed(make_facts(12, **(columns | given_columns)), "grind_steps_finer", "water_temp_c")

    assert found.answer != "can"
    heavy = [one.said for one in found.findings if one.weight == "stands in the way"]
    assert any(said in one for one in heavy), heavy


def test_five_brews_are_too_few_and_that_is_said(make_facts: Facts) -> None:
    facts = make_facts(
        5,
        coffee_id=["a", "a", "b", "b", "b"],
        grind_steps_finer=[0, 1, 0, 1, 2],
        extraction_yield_pct=[19, 20, 21, 22, 22.5],
    )

    found = _diagnosed(facts, "grind_steps_finer")

    assert found.answer == "cannot"
    assert "Too few brews" in found.verdict


def test_a_factor_that_differs_only_between_coffees_is_named(make_facts: Facts) -> None:
    rng = np.random.default_rng(3)
    coffee = np.arange(24) % 3
    facts = make_facts(
        24,
        coffee_id=[f"c{k}" for k in coffee],
        water_temp_c=90.0 + coffee,
        grind_steps_finer=(np.arange(24) // 3) % 4,
        extraction_yield_pct=20 + rng.normal(size=24),
    )

    found = _diagnosed(facts, "grind_steps_finer", "water_temp_c")

    assert "water_temp_c" in found.blocked
    assert any("Water temperature differs only between the coffees" in one.said for one in found.findings)


def test_no_brews_and_no_readings_are_refused_plainly(make_facts: Facts) -> None:
    with pytest.raises(ProblemError, match="no brews yet"):
        _diagnosed(make_facts(0), "grind_steps_finer")
    with pytest.raises(ProblemError, match="has everything asked for"):
        _diagnosed(make_facts(4, grind_steps_finer=[0, 1, 2, 3]), "grind_steps_finer")


def test_the_same_generator_gives_the_same_diagnosis(logged_brews: pl.DataFrame) -> None:
    first, second = (_diagnosed(logged_brews, "grind_steps_finer", "beverage_ratio") for _ in range(2))

    assert first.findings == second.findings
    assert all(first.tables[name].equals(second.tables[name]) for name in first.tables)


def _columns(n: int) -> st.SearchStrategy[list[float]]:
    """A column of settings: constant, two levels, one brew away, a few levels, or anything with a decimal."""
    return st.one_of(
        st.just([2.0] * n),
        st.just([1.0] * (n - 1) + [3.0]),
        st.lists(st.sampled_from([0.0, 1.0]), min_size=n, max_size=n),
        st.lists(st.sampled_from([0.0, 1.0, 2.0]), min_size=n, max_size=n),
        st.lists(st.integers(0, 99).map(lambda v: v / 10), min_size=n, max_size=n),
    )


def _labels(n: int, letters: str) -> st.SearchStrategy[list[str]]:
    return st.one_of(st.just([letters[0]] * n), st.lists(st.sampled_from(letters), min_size=n, max_size=n))


@st.composite
def small_logs(draw: st.DrawFn) -> tuple[dict[str, Any], EffectsRequest, int]:
    n = draw(st.integers(1, 14))
    factors = tuple(draw(st.lists(st.sampled_from(FACTORS), min_size=1, max_size=3, unique=True)))
    grind = draw(_columns(n))
    columns: dict[str, Any] = {
        "coffee_id": draw(_labels(n, "abc")),
        "grinder_id": draw(_labels(n, "gh")),
        "session_id": draw(st.one_of(st.just([None] * n), _labels(n, "st"))),
        "operator": draw(st.one_of(st.just([None] * n), _labels(n, "xy"))),
        "grind_steps_finer": grind,
        "water_temp_c": [90 + v for v in draw(_columns(n))],
        "beverage_ratio": draw(st.one_of(st.just([2 + v / 5 for v in grind]), _columns(n))),
        "channeled": draw(st.lists(st.booleans(), min_size=n, max_size=n)),
        "extraction_yield_pct": [15 + v for v in draw(_columns(n))],
    }
    curves = factors[:1] if factors[0] != "channeled" and draw(st.booleans()) else ()
    return columns, EffectsRequest(YIELD, factors, curves=curves), n


@settings(max_examples=60, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))
@given(small_logs())
def test_nothing_but_a_plain_refusal_ever_comes_out(
    make_facts: Facts, log: tuple[dict[str, Any], EffectsRequest, int]
) -> None:
    columns, request, n = log
    try:
        found = diagnose(
            make_facts(n, **columns), request, ranges={"water_temp_c": (88.0, 98.0)}, rng=np.random.default_rng(1)
        )
    except ProblemError:
        return
    assert found.answer in ("can", "can in part", "cannot")
    known = set(make_facts(n, **columns)["brew_id"])
    for one in found.findings:
        assert one.said.endswith("."), one.said
        assert one.do.endswith("."), one.do
        assert set(one.brew_ids) <= known
        assert "nan" not in one.said.split() and "inf" not in one.said.split()
        assert "no effect of" not in one.said and "caused" not in one.said
