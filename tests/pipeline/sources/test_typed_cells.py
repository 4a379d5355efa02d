"""Numbers of a workbook as text; the examples in the docstrings run too."""

from __future__ import annotations

import doctest

import pytest

from pipeline.sources import sheet_cells, typed_cells, workbook
from pipeline.sources.typed_cells import date_text, is_clock, look_of, percent_text, time_text


@pytest.mark.parametrize("module", [typed_cells, sheet_cells, workbook])
def test_examples_in_docstrings(module: object) -> None:
    result = doctest.testmod(module)  # type: ignore[arg-type]

    assert result.attempted > 0
    assert result.failed == 0


@pytest.mark.parametrize(
    ("number_format", "look"),
    [
        ("General", "number"),
        ("0.00", "number"),
        ("#,##0.00 [$€-407];[Red]-#,##0.00", "number"),
        ('0.0 "g/day"', "number"),
        ("0%", "percent"),
        ("[$-409]d/m/yy h:mm AM/PM;@", "date"),
        ("mmm", "date"),
        ("mm:ss", "time"),
        ("[mm]:ss", "time"),
        ("[h]:mm", "time"),
        ("h:mm AM/PM", "time"),
        ("[Red]0.0", "number"),
        ("0.0\\s", "number"),
    ],
)
def test_looks(number_format: str, look: str) -> None:
    assert look_of(number_format) == look


def test_days_and_clocks_are_told_apart() -> None:
    assert is_clock(0.5, "h:mm")
    assert is_clock(0.5, "yyyy-mm-dd hh:mm")
    assert not is_clock(46115.4, "h:mm")
    assert is_clock(46115.4, "[h]:mm")
    assert is_clock(1.5, "h:mm:ss")
    assert not is_clock(46115.0, "yyyy-mm-dd")


@pytest.mark.parametrize(
    ("serial", "text"),
    [
        (1.0, "1900-01-01"),
        (59.0, "1900-02-28"),
        (61.0, "1900-03-01"),  # ECMA-376 18.17.4.1: the 1900 calendar counts a 29 February that never was
        (43831.0, "2020-01-01"),
        (43831.999999999, "2020-01-02"),
        (43831.5000001, "2020-01-01T12:00:00.009"),
        (-1.0, "-1"),
        (3e6, "3000000"),
    ],
)
def test_dates(serial: float, text: str) -> None:
    assert date_text(serial, from_1904=False) == text


def test_percentages_and_clock_times() -> None:
    assert percent_text("0.0135") == "1.35%"
    assert percent_text("1") == "100%"
    assert percent_text("0") == "0%"
    assert time_text(-28 / 1440) == "-0:28:00"
    assert time_text(0.999999999) == "24:00:00"
