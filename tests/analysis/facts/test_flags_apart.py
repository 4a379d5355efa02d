"""Two readings of one brew on one instrument, too far apart."""

import math

import pytest

R1 = {"instrument_id": "R1", "standard_uncertainty": 0.02, "resolution": 0.01}


def lab(pairs, instrument=R1, **more):
    """One brew of two readings for each pair, 18 g to 36 g."""
    rows = [
        instrument | {"brew_id": f"b{number}", "reading_no": no, "tds_pct": value}
        for number, pair in enumerate(pairs, 1)
        for no, value in enumerate(pair, 1)
    ]
    return [more for _ in pairs], rows


def apart(flags):
    return flags.filter(flags["rule"] == "readings_apart")


TEN = [(10.0, 10.1)] * 10
"""Ten degrees of freedom, s = 0.1 / sqrt(2): the limit is 4 sqrt(2) s = 0.4, and a step of 0.01."""


@pytest.mark.parametrize(("gap", "flagged"), [(0.41, False), (0.42, True)])
def test_with_ten_degrees_of_freedom_the_other_brews_scatter_decides(flags_of, gap, flagged):
    found = apart(flags_of(*lab([*TEN, (10.0, 10.0 + gap)])))
    assert found["brew_id"].to_list() == (["b11"] if flagged else [])


def test_the_brew_itself_and_void_ones_do_not_widen_the_limit(flags_of):
    brews, readings = lab([*TEN, (10.0, 10.5), (8.0, 12.0)])
    brews[11] = {"void_reason": "spilt"}
    assert apart(flags_of(brews, readings))["brew_id"].to_list() == ["b11"]


def test_another_method_has_its_own_scatter(flags_of):
    brews, readings = lab([*TEN, (1.4, 1.6)], instrument=R1 | {"standard_uncertainty": 0.001})
    brews[10] = {"method": "pour_over", "beverage_g": 280.0}
    assert apart(flags_of(brews, readings)).is_empty()


# With nine degrees of freedom s is the standard uncertainty: the limit is 4 sqrt(2) * 0.02 = 0.1131, and a step.
@pytest.mark.parametrize(("gap", "flagged"), [(0.12, False), (0.13, True)])
def test_with_fewer_the_instruments_own_figure_decides(flags_of, gap, flagged):
    found = apart(flags_of(*lab([(10.0, 10.0)] * 9 + [(10.0, 10.0 + gap)])))
    assert found["brew_id"].to_list() == (["b10"] if flagged else [])


@pytest.mark.parametrize("standard_uncertainty", [None, 0.01 / math.sqrt(12) - 1e-6])
def test_an_own_figure_below_the_display_step_decides_nothing(flags_of, standard_uncertainty):
    instrument = R1 | {"standard_uncertainty": standard_uncertainty}
    assert apart(flags_of(*lab([(10.0, 11.0)], instrument))).is_empty()


def test_identical_readings_do_not_make_two_display_steps_a_fault(flags_of):
    same = [(10.0, 10.0)] * 11
    # s is at least a step over sqrt(12), 0.00289: 4 sqrt(2) s = 0.0163, and a step of 0.01.
    assert apart(flags_of(*lab([*same, (10.0, 10.02)]))).is_empty()
    assert apart(flags_of(*lab([*same, (10.0, 10.03)])))["brew_id"].to_list() == ["b12"]


def test_a_gap_that_rounding_alone_can_make_is_no_fault(flags_of):
    # Pairs 0.03 apart: s = 0.03 / sqrt(2), 4 sqrt(2) s = 0.12. True readings 0.119 apart may be shown as 0.13.
    pairs = [(10.0, 10.03)] * 10
    assert apart(flags_of(*lab([*pairs, (10.0, 10.13)]))).is_empty()
    flag = apart(flags_of(*lab([*pairs, (10.0, 10.14)]))).row(0, named=True)
    assert "0.14 points apart; 0.13 is as far" in flag["message"]


def test_the_flag_points_at_the_reading_furthest_off(flags_of):
    brews, readings = lab(TEN)
    trio = [R1 | {"brew_id": "b11", "reading_no": no, "tds_pct": tds} for no, tds in [(1, 10.0), (2, 11.0), (3, 10.1)]]
    flag = apart(flags_of([*brews, {}], readings + trio)).row(0, named=True)
    assert (flag["table"], flag["line"], flag["column"], flag["value"]) == ("readings", 23, "tds_pct", "1.00")
    assert flag["message"] == (
        "Two readings of one brew on R1 are 1.00 points apart; 0.41 is as far as this instrument's scatter goes."
    )


def test_instruments_are_not_compared_with_each_other(flags_of):
    brews, readings = lab(TEN)
    other = R1 | {"instrument_id": "R2", "brew_id": "b1", "reading_no": 1, "tds_pct": 11.0}
    assert apart(flags_of(brews, [*readings, other])).is_empty()
