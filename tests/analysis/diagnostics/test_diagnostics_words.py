"""What the diagnosis says of brews built to be wrong in one way each; numbers in the sentences are recomputed here."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import polars as pl
import pytest

from analysis.diagnostics.report import Diagnosis, diagnose
from analysis.effects.request import EffectsRequest
from analysis.findings import Finding

YIELD = "extraction_yield_pct"
Facts = Callable[..., pl.DataFrame]


def _asked(*factors: str, **more: Any) -> EffectsRequest:
    return EffectsRequest(YIELD, factors, **more)


def _diagnosed(facts: pl.DataFrame, request: EffectsRequest, **more: Any) -> Diagnosis:
    return diagnose(facts, request, rng=np.random.default_rng(11), **more)


def _of(found: Diagnosis, topic: str) -> list[Finding]:
    return [one for one in found.findings if one.topic == topic]


def _tied(make_facts: Facts, *, noise: float) -> pl.DataFrame:
    """41 brews of 3 coffees whose ratio follows the grind."""
    rng = np.random.default_rng(2)
    coffee = np.arange(41) % 3
    grind = np.round(rng.uniform(-2, 2, size=41) * 2) / 2
    ratio = np.round(2.1 + 0.15 * grind + rng.normal(scale=0.06, size=41), 2)
    y = 20 + coffee + 0.3 * grind + rng.normal(scale=noise, size=41)
    return make_facts(
        41,
        coffee_id=[f"c{k}" for k in coffee],
        grind_steps_finer=grind,
        beverage_ratio=ratio,
        extraction_yield_pct=y,
    )


def _within(facts: pl.DataFrame, name: str) -> np.ndarray:
    return facts.select(pl.col(name) - pl.col(name).mean().over("coffee_id")).to_series().to_numpy()


def test_settings_that_moved_together_are_named_with_r_and_the_empty_corners(make_facts: Facts) -> None:
    facts = _tied(make_facts, noise=0.8)
    r = np.corrcoef(_within(facts, "grind_steps_finer"), _within(facts, "beverage_ratio"))[0, 1]

    found = _diagnosed(facts, _asked("grind_steps_finer", "beverage_ratio"))

    first = _of(found, "settings that moved together")[0]
    assert r > 0.9
    assert first.weight == "stands in the way"
    wider = f"{np.sqrt(1 / (1 - r**2)):.1f}"
    assert first.said == (
        f"Grind and beverage ratio moved together, r = {r:.2f}, 41 brews of 3 coffees: their effects cannot be told "
        f"apart here, their intervals {wider} times as wide as settings moved apart would give."
    )
    low, high = (np.quantile(facts["grind_steps_finer"], q, method="nearest") for q in (0.1, 0.9))
    assert f"grind {low:g} steps with beverage ratio" in first.do
    assert f"grind {high:g} steps with beverage ratio" in first.do
    assert found.answer == "cannot"
    assert found.verdict.startswith(
        "These brews cannot answer it (41 brews of 3 coffees, for these coffees), because: "
    )


def test_the_brews_that_would_part_two_settings_do_part_them(make_facts: Facts) -> None:
    from analysis.diagnostics.corners import find_remedy

    facts = _tied(make_facts, noise=0.8)
    a, b = facts["grind_steps_finer"].to_numpy(), facts["beverage_ratio"].to_numpy()

    remedy = find_remedy(a, b)

    def r_with(n_more: int) -> float:
        more = [(corner.first, corner.second) for corner in remedy.corners] * n_more
        return float(np.corrcoef([*a, *(x for x, _ in more)], [*b, *(y for _, y in more)])[0, 1])

    assert remedy.brews_each is not None
    assert abs(r_with(remedy.brews_each)) <= 0.7 < abs(r_with(remedy.brews_each - 1))


def test_tied_settings_that_many_quiet_brews_still_tell_apart_do_not_stand_in_the_way(make_facts: Facts) -> None:
    rng = np.random.default_rng(3)
    facts = _tied(make_facts, noise=0.01).with_columns(
        extraction_yield_pct=20
        + 0.5 * pl.col("grind_steps_finer")
        - 3 * pl.col("beverage_ratio")
        + pl.Series(rng.normal(scale=0.01, size=41))
    )

    found = _diagnosed(facts, _asked("grind_steps_finer", "beverage_ratio"))

    first = _of(found, "settings that moved together")[0]
    assert first.weight == "worth knowing"
    assert "tell their effects apart all the same" in first.said


def test_a_channeled_brew_is_not_to_be_brewed_on_purpose(make_facts: Facts) -> None:
    rng = np.random.default_rng(4)
    grind = np.repeat([-1.0, 0.0, 1.0, 2.0], 8)
    facts = make_facts(
        32, grind_steps_finer=grind, channeled=grind > 0.5, extraction_yield_pct=20 + rng.normal(size=32)
    )

    found = _diagnosed(facts, _asked("grind_steps_finer", "channeled"))

    assert "Channeling cannot be brewed on purpose" in _of(found, "settings that moved together")[0].do


def test_a_range_too_narrow_is_said_against_the_one_declared(make_facts: Facts) -> None:
    rng = np.random.default_rng(5)
    temp = np.tile([92.0, 92.5, 93.0, 94.0], 6)
    facts = make_facts(24, water_temp_c=temp, extraction_yield_pct=20 + rng.normal(size=24))

    found = _diagnosed(facts, _asked("water_temp_c"), ranges={"water_temp_c": (88.0, 96.0)})

    first = _of(found, "how far the settings were moved")[0]
    assert first.weight == "stands in the way"
    assert first.said == (
        "Water temperature moved 2 C of the 8 you asked about (brewed 92 to 94 C, asked 88 to 96 C; 24 brews of "
        "1 coffee): the same brews across the whole range would give an interval 4.0 times narrower."
    )
    assert first.do == "Brew at 88 and at 96 C, or ask about the range you brewed."
    row = found.tables["ranges"].row(0, named=True)
    assert (row["levels"], row["brews_per_level"], row["covered"]) == (4, "92 C: 6; 92.5 C: 6; 93 C: 6; 94 C: 6", 0.25)


def test_no_repeats_says_what_that_means_and_what_to_repeat(make_facts: Facts) -> None:
    rng = np.random.default_rng(6)
    facts = make_facts(12, grind_steps_finer=np.arange(12) - 4.0, extraction_yield_pct=20 + rng.normal(size=12))

    found = _diagnosed(facts, _asked("grind_steps_finer"))

    first = _of(found, "repeats and the shape of the model")[0]
    assert first.said.startswith("No two of 12 brews of 1 coffee are alike in coffee and settings: ")
    assert first.do == "Repeat brew b06 (grind 1 step) 3 more times, and brew b01 (grind -4 steps) once or twice."


def test_a_curve_taken_for_a_line_shows_against_repeats(make_facts: Facts) -> None:
    rng = np.random.default_rng(7)
    grind = np.tile([-2.0, -1.0, 0.0, 1.0, 2.0], 5)
    facts = make_facts(25, grind_steps_finer=grind, extraction_yield_pct=20 - grind**2 + rng.normal(scale=0.3, size=25))

    line = _diagnosed(facts, _asked("grind_steps_finer"))
    curve = _diagnosed(facts, _asked("grind_steps_finer", curves=("grind_steps_finer",)))

    missed = _of(line, "repeats and the shape of the model")[0]
    assert missed.weight == "stands in the way"
    assert "Ask for a curve" in missed.do
    assert line.answer == "can in part"
    assert _of(curve, "repeats and the shape of the model")[0].weight == "fine"


def test_repeats_of_one_session_are_said_to_miss_what_differs_between_sessions(make_facts: Facts) -> None:
    rng = np.random.default_rng(8)
    session = np.repeat([0, 1, 2], 6)
    grind = np.tile([0.0, 0.0, 1.0, 1.0, 2.0, 2.0], 3) + 3 * session
    facts = make_facts(
        18,
        session_id=[f"s{k}" for k in session],
        grind_steps_finer=grind,
        extraction_yield_pct=20 + rng.normal(size=18),
    )

    found = _diagnosed(facts, _asked("grind_steps_finer"))

    said = [one.said for one in _of(found, "repeats and the shape of the model")]
    assert any("repeated within one session (b01, b02, b03, b04, b05 and 13 more)" in one for one in said)


def test_a_brew_that_alone_fixes_a_term_is_named(make_facts: Facts) -> None:
    rng = np.random.default_rng(9)
    coffee = ["c1"] * 10 + ["c2"] * 10
    temp = [92.0] * 19 + [95.0]
    grind = np.tile([-1.0, 0.0, 1.0, 0.0, 1.0], 4)
    facts = make_facts(
        20, coffee_id=coffee, water_temp_c=temp, grind_steps_finer=grind, extraction_yield_pct=20 + rng.normal(size=20)
    )

    found = _diagnosed(facts, _asked("grind_steps_finer", "water_temp_c"))

    alone = next(one for one in found.findings if "leverage 1" in one.said)
    assert alone.said.startswith("Brew b20 alone fixes what is said of water temperature (leverage 1;")
    assert alone.brew_ids == ("b20",)
    assert alone.do == "Brew b20 again at least twice, or leave water temperature out."
    assert found.blocked == ("water_temp_c",)
    assert found.verdict == (
        "These brews can answer parts (20 brews of 2 coffees, for these coffees): what grind does, but not what water "
        "temperature does."
    )


def test_settings_changed_in_the_order_of_brewing_stand_in_the_way(make_facts: Facts) -> None:
    rng = np.random.default_rng(10)
    place = np.tile(np.arange(8), 3)
    facts = make_facts(
        24,
        session_id=[f"s{k}" for k in np.repeat([1, 2, 3], 8)],
        grind_steps_finer=place / 2,
        extraction_yield_pct=20 + 0.3 * place + rng.normal(scale=0.3, size=24),
    )

    found = _diagnosed(facts, _asked("grind_steps_finer"))

    first = _of(found, "order of brewing")[0]
    assert first.weight == "stands in the way"
    assert first.said.startswith("Grind went up along the session (r = 1.00 with the order of brewing, 24 brews of")
    assert found.answer == "cannot"


def test_a_trend_along_the_session_is_put_in_the_trades_words(logged_brews: pl.DataFrame) -> None:
    found = _diagnosed(logged_brews, _asked("grind_steps_finer", "water_temp_c", "beverage_ratio"))

    drifted = next(one for one in _of(found, "what the settings leave unexplained") if "along the session" in one.said)
    assert drifted.weight == "worth knowing"
    assert drifted.said.startswith("Residuals rise along the session: +0.08 points a brew, 95 % interval 0.0")
    assert "the grinder warms, or the barista tires" in drifted.said


def test_a_brew_far_out_is_named_and_counts_on(logged_blends: pl.DataFrame) -> None:
    found = _diagnosed(logged_blends, _asked("grind_steps_finer", "water_temp_c"))

    far = next(one for one in found.findings if one.brew_ids == ("m05",) and "lies" in one.said)
    assert "below what the other brews say of its settings" in far.said
    assert "It counts until there is a reason on record" in far.do


def test_the_headline_without_each_coffee_meets_lmer(
    logged_blends: pl.DataFrame, read_expected: Callable[[str], pl.DataFrame]
) -> None:
    found = _diagnosed(logged_blends, _asked("grind_steps_finer", "water_temp_c"))

    table = found.tables["left out"].filter(pl.col("term") == "grind_steps_finer").sort("left_out")
    expected = read_expected("left_out").filter(pl.col("left_out").str.starts_with("k")).sort("left_out")
    assert table["left_out"].to_list() == expected["left_out"].to_list() == ["k1", "k2", "k3", "k4"]
    for name in ("estimate", "low", "high"):
        assert table[name].to_numpy() == pytest.approx(expected[name].to_numpy(), rel=1e-4), name
    said = _of(found, "the headline with each left out")[0].said
    assert said == (
        "Leaving out any one coffee, one step finer stays between +0.31 (without k1) and +0.51 points (without k3) "
        "(all: +0.45 points, 95 % interval 0.24 to 0.65; 48 brews of 4 coffees)."
    )


def test_the_headline_without_the_heaviest_brews_meets_lmer(
    logged_blends: pl.DataFrame, read_expected: Callable[[str], pl.DataFrame]
) -> None:
    found = _diagnosed(logged_blends, _asked("grind_steps_finer", "water_temp_c"))

    expected = {row["left_out"]: row for row in read_expected("left_out").iter_rows(named=True)}
    whole = expected["none"]
    every = {
        k: (row["estimate"] - whole["estimate"]) / whole["std_error"] for k, row in expected.items() if k[0] == "m"
    }
    moves = found.tables["influence"].filter(pl.col("moves").is_not_null())
    assert moves["brew_id"][0] == "m05" == max(every, key=lambda k: abs(every[k]))
    assert moves.height == 5
    for brew, move in moves.select("brew_id", "moves").iter_rows():
        assert move == pytest.approx(every[brew], rel=1e-3), brew


def test_a_coffee_that_turns_the_direction_is_named(make_facts: Facts) -> None:
    rng = np.random.default_rng(12)
    coffee = np.repeat([0, 1, 2], 10)
    grind = np.tile([-2.0, -1.0, 0.0, 1.0, 2.0], 6)
    slope = np.array([2.5, -0.4, -0.3])[coffee]
    facts = make_facts(
        30,
        coffee_id=[f"c{k}" for k in coffee],
        grind_steps_finer=grind,
        extraction_yield_pct=20 + slope * grind + rng.normal(scale=0.2, size=30),
    )

    found = _diagnosed(facts, _asked("grind_steps_finer"))

    turned = _of(found, "the headline with each left out")[0]
    assert turned.weight == "stands in the way"
    assert turned.said.startswith("Without coffee c0 one step finer turns the other way: ")
    assert found.answer == "cannot"


def test_good_brews_can_answer(make_facts: Facts) -> None:
    rng = np.random.default_rng(13)
    grind = np.tile(np.repeat([-1.0, 0.0, 1.0], 2), 8)
    temp = np.tile(np.tile([90.0, 94.0], 3), 8)
    order = np.concatenate([rng.permutation(12) + 12 * k for k in range(4)])
    coffee = np.repeat([0, 1, 2, 3], 12)
    facts = make_facts(
        48,
        coffee_id=[f"c{k}" for k in coffee],
        session_id=[f"s{k}" for k in coffee],
        grind_steps_finer=grind[order],
        water_temp_c=temp[order],
        extraction_yield_pct=20
        + coffee
        + 0.5 * grind[order]
        + 0.2 * (temp[order] - 92)
        + rng.normal(scale=0.3, size=48),
    )

    found = _diagnosed(facts, _asked("grind_steps_finer", "water_temp_c"), ranges={"water_temp_c": (89.0, 95.0)})

    assert found.answer == "can"
    assert found.verdict.startswith("These brews can answer it (48 brews of 4 coffees, for these coffees)")
    assert {one.weight for one in found.findings} <= {"fine", "worth knowing"}


def test_a_brew_that_turns_the_headline_is_named_and_stands_in_the_way(make_facts: Facts) -> None:
    rng = np.random.default_rng(14)
    grind = np.array([*np.tile([-1.0, 0.0, 1.0], 5), 6.0])
    y = 20 - 0.4 * grind + rng.normal(scale=0.2, size=16)
    y[15] = 26.0
    facts = make_facts(16, grind_steps_finer=grind, extraction_yield_pct=y)
    slope_without = float(np.polyfit(grind[:15], y[:15], 1)[0])

    found = _diagnosed(facts, _asked("grind_steps_finer"))

    heavy = _of(found, "brews that weigh much")[0]
    assert slope_without < 0
    assert f"without b16 one step finer would be {slope_without:.2f} points" in heavy.said
    assert heavy.brew_ids[0] == "b16"
    assert heavy.weight == "stands in the way"
    assert "Check the record of b16" in heavy.do


def test_coffees_always_brewed_in_one_order_hide_a_drift(make_facts: Facts) -> None:
    rng = np.random.default_rng(15)
    coffee, session = np.tile(np.arange(4), 5), np.repeat(np.arange(5), 4)
    facts = make_facts(
        20,
        coffee_id=[f"c{k}" for k in coffee],
        session_id=[f"s{k}" for k in session],
        grind_steps_finer=rng.integers(0, 4, size=20),
        extraction_yield_pct=20 + rng.normal(size=20),
    )

    found = _diagnosed(facts, _asked("grind_steps_finer"))

    assert _of(found, "order of brewing")[0].said == (
        "Every session went through the coffees in the same order (20 brews of 4 coffees): a drift along the session "
        "cannot be told from the difference between coffees."
    )
    assert not any("trend" in check for check in found.tables["residuals"]["check"])
