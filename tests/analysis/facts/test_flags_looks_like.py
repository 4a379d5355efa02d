"""Values that look like something else, and the many that only might."""

from datetime import UTC, datetime

import pytest

GOOD = {"water_g": 60.0, "tds": [10.0]}
FILTER = {"method": "pour_over", "dose_g": 15.0, "water_g": 250.0, "beverage_g": 220.0, "tds": [1.36]}
STEEP = {"method": "immersion", "dose_g": 15.0, "water_g": 225.0, "tds": [1.35]}


def looks(flags):
    return flags.filter(flags["rule"].str.starts_with("looks_")).select("rule", "column", "value").rows()


@pytest.mark.parametrize(
    ("brew", "tds", "rule", "suggest"),
    [
        (FILTER, 0.0136, "looks_like_fraction", "1.36"),
        (GOOD, 0.1, "looks_like_fraction", "10"),
        (STEEP, 0.0135, "looks_like_fraction", "1.35"),
        (FILTER, 0.136, "looks_tenfold", "1.36"),
        (GOOD, 1.0, "looks_tenfold", "10"),
    ],
)
def test_a_strength_that_fits_only_in_another_unit(flags_of, brew, tds, rule, suggest):
    flags = flags_of([brew | {"tds": [tds]}])
    assert [found[0] for found in looks(flags)] == [rule]
    row = flags.filter(flags["rule"] == rule).row(0, named=True)
    assert (row["table"], row["column"]) == ("readings", "tds_pct")
    assert suggest in row["message"] + row["fix"]


def test_a_decimal_point_too_far_right_where_there_is_no_yield(flags_of):
    flags = flags_of([FILTER | {"tds": [13.6], "bypass_g": 10.0}])
    assert looks(flags) == [("looks_tenfold", "tds_pct", "13.6")]
    assert "ten times too high" in flags.filter(flags["rule"] == "looks_tenfold")["message"].item()


def test_one_odd_reading_among_good_ones_is_the_one_named(flags_of):
    flags = flags_of([FILTER | {"tds": [1.36, 0.136, 1.37]}])
    assert [row[2] for row in looks(flags)] == ["0.136"]


@pytest.mark.parametrize("brew", [FILTER | {"tds": [0.6]}, GOOD | {"tds": [3.0]}, STEEP | {"tds": [0.3]}])
def test_merely_weak_brews_look_like_nothing_else(flags_of, brew):
    assert looks(flags_of([brew])) == []


@pytest.mark.parametrize(
    ("wrong", "column", "suggest"),
    [
        ({"dose_g": 150.0}, "dose_g", "15"),
        ({"dose_g": 1.5, "tds": []}, "dose_g", "15"),
        ({"water_g": 2500.0}, "water_g", "250"),
        ({"beverage_g": 22.0}, "beverage_g", "220"),
    ],
)
def test_a_mass_with_a_lost_decimal_point(flags_of, wrong, column, suggest):
    flags = flags_of([FILTER | wrong])
    assert [(rule, found) for rule, found, _ in looks(flags)] == [("looks_tenfold", column)]
    assert flags.filter(flags["rule"] == "looks_tenfold")["fix"].item() == f"Check the decimal point: {suggest}?"


def test_a_steeped_dose_is_held_against_the_methods_usual_one(flags_of):
    flags = flags_of([STEEP] * 5 + [STEEP | {"dose_g": 150.0}])
    assert looks(flags) == [("looks_tenfold", "dose_g", "150")]
    flags = flags_of([STEEP] * 5 + [STEEP | {"water_g": 22.5, "beverage_g": 195.0}])
    assert looks(flags) == [("looks_tenfold", "water_g", "22.5")]
    assert looks(flags_of([STEEP | {"dose_g": 150.0}])) == []


@pytest.mark.parametrize(
    ("brew", "found"),
    [
        (GOOD | {"water_g": 36.0, "beverage_g": 50.0}, True),
        (STEEP | {"water_g": 195.0, "beverage_g": 225.0}, True),
        (GOOD | {"water_g": 36.0, "beverage_g": 36.5}, False),
        (FILTER | {"water_g": 200.0, "beverage_g": 215.0, "bypass_g": 30.0, "bypass_included": True}, False),
    ],
)
def test_water_and_beverage_swapped(rules_of, brew, found):
    assert ("looks_swapped" in rules_of(brew)) is found


@pytest.mark.parametrize(
    ("brew", "found"),
    [
        (FILTER | {"water_temp_c": 9.3}, [("looks_tenfold", "water_temp_c", "9.3")]),
        ({"method": "cold_brew", "water_temp_c": 9.3}, []),
        ({"method": "cold_brew", "water_temp_c": 68.0}, [("looks_like_fahrenheit", "water_temp_c", "68")]),
        ({"method": "cold_brew", "water_temp_c": 22.0}, []),
        (FILTER | {"water_temp_c": 93.0}, []),
    ],
)
def test_water_temperatures(flags_of, brew, found):
    assert looks(flags_of([brew])) == found


def test_sample_temperatures_in_fahrenheit_are_flagged_once_a_brew(flags_of):
    rows = [
        {"brew_id": f"b{brew}", "reading_no": no, "tds_pct": 10.0, "sample_temp_c": temp}
        for brew, no, temp in [(1, 1, 70.0), (1, 2, 71.0), (2, 1, 72.0), (3, 1, 22.0)]
    ]
    flags = flags_of([{"water_g": 60.0}] * 3, rows)
    assert flags.select("brew_id", "rule", "value").rows() == [
        ("b1", "looks_like_fahrenheit", "70"),
        ("b2", "looks_like_fahrenheit", "72"),
    ]


def test_every_brew_with_water_in_fahrenheit_is_flagged(flags_of):
    flags = flags_of([{"method": "cold_brew", "water_g": 200.0, "water_temp_c": temp} for temp in (68.0, 70.0, 20.0)])
    assert flags.select("brew_id", "rule", "value").rows() == [
        ("b1", "looks_like_fahrenheit", "68"),
        ("b2", "looks_like_fahrenheit", "70"),
    ]


def test_an_instrument_in_brix_whose_readings_are_called_dissolved_solids(flags_of):
    rows = [
        {"brew_id": "b1", "reading_no": no, "tds_pct": 10.0, "instrument_id": "R1", "unit": unit}
        for no, unit in [(1, "% Brix"), (2, "% Brix")]
    ]
    assert looks(flags_of([{"water_g": 60.0}], rows)) == [("looks_like_brix", "tds_pct", "10")]
    assert looks(flags_of([{"water_g": 60.0}], [row | {"reading_scale": "brix"} for row in rows])) == []
    assert looks(flags_of([{"water_g": 60.0}], [row | {"unit": "%"} for row in rows])) == []


ONCE = GOOD | {"operator": "Ola", "brewed_at": datetime(2026, 3, 2, 9, 5, tzinfo=UTC)}


@pytest.mark.parametrize(
    ("second", "found"),
    [
        ({}, True),
        ({"run_order": 2}, True),
        ({"dose_g": 18.1}, False),
        ({"tds": [10.1]}, False),
        ({"tds": [10.0, 10.0]}, False),
        ({"tds": []}, False),
        ({"brewed_at": datetime(2026, 3, 2, 9, 9, tzinfo=UTC)}, False),
        ({"void_reason": "pasted twice"}, False),
        ({"notes": "again"}, False),
    ],
)
def test_a_row_pasted_twice(flags_of, second, found):
    assert looks(flags_of([ONCE, ONCE | second])) == ([("looks_repeated", "brew_id", "b2")] if found else [])


def test_the_same_number_on_another_scale_is_no_repeat(flags_of):
    readings = [
        {"brew_id": brew, "reading_no": 1, "tds_pct": 10.0, "reading_scale": scale}
        for brew, scale in [("b1", "tds"), ("b2", "brix")]
    ]
    once = {name: cell for name, cell in ONCE.items() if name != "tds"}
    assert looks(flags_of([once, once], readings)) == []


def test_the_earlier_row_is_named(flags_of):
    assert "repeats line 2 in" in flags_of([ONCE, ONCE])["message"].item()
    elsewhere = flags_of([ONCE, ONCE | {"source_file": "zz.csv"}])["message"].item()
    assert "repeats line 2 of log.csv in" in elsewhere


def test_round_numbers_meet_by_chance_on_one_day_or_one_table(flags_of):
    for loose in ({"brewed_at_is_date": True}, {"method": "cupping", "dose_g": 12.0, "water_g": 200.0, "tds": [1.3]}):
        brew = ONCE | loose
        assert looks(flags_of([brew, brew])) == []
        twice_read = brew | {"tds": brew["tds"] * 2}
        assert looks(flags_of([twice_read, twice_read])) == [("looks_repeated", "brew_id", "b2")]
