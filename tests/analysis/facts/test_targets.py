"""Which target applies, and what its verdict is."""

from datetime import UTC, date, datetime

import pytest

# 36 g from 18 g in 28 s at 10 %: ratio 2, yield 20 %.
SHOT = {"brew_time_s": 28.0, "tds": [10.0], "recipe_id": "r1", "site": "bench"}
HOLDS, FAILS = {"low": 1.9, "high": 2.0}, {"low": 2.1, "high": 2.5}


def target(quantity="beverage_ratio", **more):
    return {"target_id": str(more), "quantity": quantity} | more


def verdicts(fact):
    return fact["in_target_recipe"], fact["in_target_cup"], fact["in_target"]


def test_no_target_no_verdict(fact_of):
    assert verdicts(fact_of(SHOT)) == (None, None, None)


@pytest.mark.parametrize(
    ("quantity", "value"),
    [
        ("tds_pct", 10.0),
        ("extraction_yield_pct", 20.0),
        ("beverage_g", 36.0),
        ("brew_time_s", 28.0),
        ("water_ratio", 3.0),
        ("beverage_ratio", 2.0),
    ],
)
def test_bounds_are_included_for_every_quantity(fact_of, quantity, value):
    brew = SHOT | {"water_g": 54.0}
    is_cup = quantity in ("tds_pct", "extraction_yield_pct")
    for low, high, met in [(value, value + 1, True), (value - 1, value, True), (value + 0.01, value + 1, False)]:
        found = verdicts(fact_of(brew, targets=[target(quantity, low=low, high=high)]))
        assert found == ((None, met, met) if is_cup else (met, None, met))


def test_a_ratio_that_floats_a_digit_short_still_meets_its_bound(fact_of):
    assert 22.4 / 14.0 < 1.6
    fact = fact_of(SHOT | {"dose_g": 14.0, "beverage_g": 22.4}, targets=[target(low=1.6, high=1.8)])
    assert fact["in_target"] is True


def test_strength_targets_are_held_against_the_cup(fact_of):
    brew = SHOT | {"bypass_g": 36.0, "bypass_included": False, "bypass_before_reading": False}
    assert fact_of(brew, targets=[target("tds_pct", low=4.9, high=5.1)])["in_target_cup"] is True


ESPRESSO_C1 = {"coffee_id": "c1", "method": "espresso"}


@pytest.mark.parametrize(
    ("specific", "general"),
    [
        (ESPRESSO_C1, {"coffee_id": "c1"}),
        ({"coffee_id": "c1"}, {"method": "espresso"}),
        ({"method": "espresso"}, {}),
        ({"recipe_id": "r1"}, {}),
        ({"site": "bench"}, {}),
        (ESPRESSO_C1 | {"recipe_id": "r1"}, ESPRESSO_C1),
        ({"method": "espresso", "site": "bench"}, {"method": "espresso"}),
        ({"recipe_id": "r1", "site": "bench"}, {"recipe_id": "r1"}),
        ({"coffee_id": "c1"}, {"recipe_id": "r1"}),
        ({"coffee_id": "c1"}, {"method": "espresso", "recipe_id": "r1", "site": "bench"}),
        (ESPRESSO_C1, {"coffee_id": "c1", "recipe_id": "r1", "site": "bench"}),
    ],
)
def test_the_more_specific_target_rules(fact_of, specific, general):
    assert fact_of(SHOT, targets=[target(**specific, **HOLDS), target(**general, **FAILS)])["in_target"] is True
    assert fact_of(SHOT, targets=[target(**specific, **FAILS), target(**general, **HOLDS)])["in_target"] is False


@pytest.mark.parametrize("elsewhere", [{"coffee_id": "c2"}, {"method": "moka"}, {"recipe_id": "r2"}, {"site": "shop"}])
def test_a_target_for_something_else_does_not_apply(fact_of, elsewhere):
    assert fact_of(SHOT, targets=[target(**elsewhere, **FAILS)])["in_target"] is None


def test_equally_specific_targets_must_all_hold(fact_of):
    assert fact_of(SHOT, targets=[target(**HOLDS), target(**FAILS)])["in_target"] is False
    assert fact_of(SHOT, targets=[target(**HOLDS), target(low=2.0, high=9.0)])["in_target"] is True
    narrowed = [target(recipe_id="r1", **HOLDS), target(site="bench", **FAILS)]
    assert fact_of(SHOT, targets=narrowed)["in_target"] is False


@pytest.mark.parametrize(
    ("valid_from", "valid_to", "applies"),
    [
        (None, None, True),
        (date(2026, 3, 2), None, True),
        (date(2026, 3, 3), None, False),
        (None, date(2026, 3, 2), True),
        (None, date(2026, 3, 1), False),
    ],
)
def test_a_target_holds_on_its_own_days(fact_of, valid_from, valid_to, applies):
    found = fact_of(SHOT, targets=[target(**HOLDS, valid_from=valid_from, valid_to=valid_to)])
    assert found["in_target"] is (True if applies else None)


def test_an_outdated_specific_target_leaves_the_general_one(fact_of):
    old = target(**ESPRESSO_C1, **FAILS, valid_to=date(2026, 1, 31))
    assert fact_of(SHOT, targets=[old, target(**HOLDS)])["in_target"] is True


def test_a_missing_value_leaves_it_open_unless_a_known_one_is_out(fact_of):
    brew = SHOT | {"tds": []}
    of_cup = target("tds_pct", low=9.0, high=11.0)
    assert verdicts(fact_of(brew, targets=[target(**HOLDS), of_cup])) == (True, None, None)
    assert verdicts(fact_of(brew, targets=[target(**FAILS), of_cup])) == (False, None, False)


def test_void_brews_have_no_verdict(fact_of):
    assert verdicts(fact_of(SHOT | {"void_reason": "x"}, targets=[target(**HOLDS)])) == (None, None, None)


def test_every_brew_gets_its_own_verdict(facts_of):
    brews = [
        SHOT | {"brewed_at": datetime(2026, 3, day, 9, tzinfo=UTC), "coffee_id": coffee}
        for day in (1, 2)
        for coffee in ("c1", "c2")
    ]
    facts = facts_of(brews, targets=[target(coffee_id="c1", valid_from=date(2026, 3, 2), **HOLDS)])
    assert facts.sort("brew_id")["in_target"].to_list() == [None, None, True, None]
