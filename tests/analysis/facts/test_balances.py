"""Both mass balances with bypass and evaporation, brew by brew."""

import pytest

from schemas.lab import LabSettings

PHYSICAL = ("dissolved_g", "extraction_yield_pct", "extraction_yield_dry_pct", "extraction_yield_u_pct")
STRENGTH = ("tds_pct", "tds_sd_pct", "tds_u_pct", "cup_tds_pct")
LAB = LabSettings(default_u={"tds_pct": 0.02, "dose_g": 0.05, "beverage_g": 0.5, "water_g": 0.5})
FILTER = {"method": "pour_over", "dose_g": 20.0, "water_g": 320.0, "beverage_g": 280.0, "tds": [1.4, 1.4]}
STEEP = {"method": "immersion", "dose_g": 15.0, "water_g": 225.0, "beverage_g": 195.0, "tds": [1.413079]}


def test_the_reference_immersion(fact_of):
    # check-values.md 1.3: 21.5000 %.
    fact = fact_of(STEEP)
    assert fact["balance_used"] == "immersion"
    assert fact["extraction_yield_pct"] == pytest.approx(21.5, abs=5e-5)
    assert fact["retained_g"] == pytest.approx(225 - 195 * (1 - 0.01413079))


@pytest.mark.parametrize(
    ("method", "balance"),
    [
        ("espresso", "percolation"),
        ("pour_over", "percolation"),
        ("batch_brew", "percolation"),
        ("moka", "percolation"),
        ("immersion", "immersion"),
        ("cupping", "immersion"),
        ("cold_brew", "immersion"),
        ("steep_release", "immersion"),
        ("boiled", "immersion"),
    ],
)
def test_the_balance_follows_the_method_unless_the_brew_says_otherwise(fact_of, method, balance):
    assert fact_of({"method": method})["balance_used"] == balance
    assert fact_of({"method": method, "mass_balance": "percolation"})["balance_used"] == "percolation"
    assert fact_of({"method": "other", "mass_balance": balance})["balance_used"] == balance


# 280 g at 1.4 % are 3.92 g; 70 g of bypass make 350 g at 1.12 %.
@pytest.mark.parametrize(
    ("weighed", "included", "read", "after"),
    [(280.0, False, 1.4, False), (350.0, True, 1.4, False), (280.0, False, 1.12, True), (350.0, True, 1.12, True)],
)
def test_one_brew_told_in_four_ways_gives_one_answer(fact_of, weighed, included, read, after):
    fact = fact_of(
        FILTER
        | {"beverage_g": weighed, "tds": [read], "bypass_g": 70.0}
        | {"bypass_included": included, "bypass_before_reading": after}
    )
    assert fact["tds_pct"] == read
    assert fact["dissolved_g"] == pytest.approx(3.92)
    assert fact["extraction_yield_pct"] == pytest.approx(19.6)
    assert fact["cup_tds_pct"] == pytest.approx(1.12)
    assert fact["beverage_ratio"] == pytest.approx(14.0)
    assert fact["water_ratio"] == pytest.approx(16.0)
    assert fact["total_water_ratio"] == pytest.approx(19.5)
    assert fact["retained_g"] == pytest.approx(320 - 280 * 0.986)


def test_an_immersion_read_after_bypass(fact_of):
    # t0 = 1 % * (200 + 50) / 200 = 1.25 %; 225 * 0.0125 / 0.9875 = 2.848101 g of 15 g.
    brew = STEEP | {"beverage_g": 200.0, "tds": [1.0], "bypass_g": 50.0}
    fact = fact_of(brew | {"bypass_included": False, "bypass_before_reading": True})
    assert fact["dissolved_g"] == pytest.approx(2.84810127, abs=5e-9)
    assert fact["extraction_yield_pct"] == pytest.approx(18.9873418, abs=5e-8)
    assert fact["cup_tds_pct"] == 1.0


def test_an_immersion_read_after_bypass_needs_the_beverage(fact_of):
    brew = STEEP | {"beverage_g": None, "bypass_g": 50.0, "bypass_included": False, "bypass_before_reading": True}
    fact = fact_of(brew)
    assert [fact[name] for name in PHYSICAL] == [None] * 4
    assert fact["cup_tds_pct"] == fact["tds_pct"] == 1.413079


def test_an_immersion_read_before_bypass_does_not(fact_of):
    brew = STEEP | {"beverage_g": None, "bypass_g": 50.0, "bypass_included": False, "bypass_before_reading": False}
    assert fact_of(brew, settings=LAB)["extraction_yield_pct"] == pytest.approx(21.5, abs=5e-5)
    assert fact_of(brew, settings=LAB)["extraction_yield_u_pct"] > 0
    assert fact_of(brew)["cup_tds_pct"] is None


def test_a_boiled_brew_counts_what_boiled_off(fact_of):
    # (100 - 20) * 0.04 / 0.96 = 3.333 g of 20 g; 100 - 20 - 60 * 0.96 = 22.4 g stay behind.
    brew = {"method": "boiled", "dose_g": 20.0, "water_g": 100.0, "evaporated_g": 20.0, "beverage_g": 60.0}
    fact = fact_of(brew | {"tds": [4.0]})
    assert fact["extraction_yield_pct"] == pytest.approx(100 / 6)
    assert fact["retained_g"] == pytest.approx(22.4)


@pytest.mark.parametrize(
    "unknown",
    [
        FILTER | {"bypass_g": 70.0},
        FILTER | {"bypass_g": 70.0, "bypass_included": True},
        FILTER | {"bypass_g": 70.0, "bypass_before_reading": True},
        {"method": "boiled", "dose_g": 20.0, "water_g": 100.0, "tds": [4.0, 4.1]},
    ],
)
def test_without_its_answers_a_brew_has_no_strength_and_no_yield(fact_of, unknown):
    fact = fact_of(unknown, settings=LAB)
    names = (*STRENGTH, *PHYSICAL, "u_note", "retained_g")
    assert [fact[name] for name in names] == [None] * len(names)
    assert fact["n_readings"] == len(unknown["tds"])


@pytest.mark.parametrize("bypass", [None, 0.0])
def test_no_bypass_needs_no_answers_and_no_beverage(fact_of, bypass):
    fact = fact_of(STEEP | {"beverage_g": None, "bypass_g": bypass})
    assert fact["cup_tds_pct"] == 1.413079
    assert fact["extraction_yield_pct"] == pytest.approx(21.5, abs=5e-5)


def test_more_bypass_than_beverage_leaves_no_yield(fact_of):
    fact = fact_of(FILTER | {"bypass_g": 280.0, "bypass_included": True, "bypass_before_reading": True})
    assert [fact[name] for name in PHYSICAL] == [None] * 4


def test_an_undiluted_strength_of_100_or_more_leaves_no_yield(fact_of):
    # 25 % in 100 g with 80 g of bypass would be 125 % in the 20 g before it.
    brew = STEEP | {"beverage_g": 20.0, "tds": [25.0], "bypass_g": 80.0}
    fact = fact_of(brew | {"bypass_included": False, "bypass_before_reading": True})
    assert [fact[name] for name in PHYSICAL] == [None] * 4


def test_void_brews_keep_what_their_masses_allow(fact_of):
    sound = fact_of(FILTER | {"void_reason": "wrong beans"})
    assert sound["is_void"] is True
    assert sound["extraction_yield_pct"] == pytest.approx(19.6)
    assert fact_of(FILTER | {"void_reason": "no weight", "beverage_g": None})["extraction_yield_pct"] is None


@pytest.mark.parametrize("broken", [{"beverage_g": 341.0}, {"tds": [3.0]}])
def test_void_brews_that_break_a_rule_have_no_derived_values(fact_of, broken):
    fact = fact_of(FILTER | {"void_reason": "typing"} | broken)
    names = (*PHYSICAL, "beverage_ratio", "water_ratio", "total_water_ratio", "retained_g", "retained_ratio")
    assert [fact[name] for name in names] == [None] * len(names)
    assert fact["tds_pct"] is not None
