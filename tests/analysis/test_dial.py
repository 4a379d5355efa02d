"""Dial settings in the ways labs write them."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from analysis.dial import parse_dial, read_setting


@pytest.mark.parametrize(
    ("setting", "dial", "expected"),
    [
        ("2.5.1", "10.5", 2.52),
        ("2.5", "10.5", 2.5),
        ("2", "10.5", 2.0),
        ("3+2", "8", 3.25),
        ("3 + 2", "8", 3.25),
        ("3 2", "8", 3.25),
        ("3:2", "8", 3.25),
        ("3/2", "8", 3.25),
        ("2,5,1", "10,5", 2.52),
        (" 14 ", None, 14.0),
        ("14.5", None, 14.5),
        ("14,5", None, 14.5),
        ("-1", None, -1.0),
        ("0", "10", 0.0),
        ("2.5", "stepless", 2.5),
    ],
)
def test_settings_that_can_be_read(setting, dial, expected):
    assert read_setting(setting, dial) == expected


@pytest.mark.parametrize(
    ("setting", "dial"),
    [
        (None, "10.5"),
        ("2.5.1", None),
        ("3+2", None),
        ("fine", None),
        ("", None),
        ("2.12", "10"),
        ("2.10", "10"),
        ("2.5.5", "10.5"),
        ("2.5.1.1", "10.5"),
        ("2.a", "10"),
        ("2.", "10"),
        ("nan", None),
        ("inf", None),
        ("1e3", None),
        ("٣", None),
        ("²", "10"),
    ],
)
def test_settings_that_cannot_be_read(setting, dial):
    assert read_setting(setting, dial) is None


@pytest.mark.parametrize("dial", ["", "none", "10.x", "0", "10.0", "-3"])
def test_dials_that_say_nothing(dial):
    assert parse_dial(dial) is None


@given(st.integers(0, 40), st.integers(0, 9), st.integers(0, 4))
def test_a_compound_dial_counts_its_clicks(large, mark, click):
    # 10 marks of 5 clicks: 50 clicks make one unit.
    clicks = large * 50 + mark * 5 + click
    assert read_setting(f"{large}.{mark}.{click}", "10.5") == clicks / 50
