from __future__ import annotations

import polars as pl
import pytest

from pipeline.parse.model import Conversion, DecimalMark
from pipeline.parse.numbers import convert, parse_numbers


def one(text: str, mark: DecimalMark = ".", conversion: Conversion = "", **options: bool) -> float | None:
    value = parse_numbers(pl.Series([None, text]), mark=mark, conversion=conversion, **options)
    assert value[0] is None
    found: float | None = value[1]
    return found


@pytest.mark.parametrize(
    ("text", "mark", "value"),
    [
        ("18.1", ".", 18.1),
        ("18", ",", 18.0),
        ("18,1", ",", 18.1),
        ("18,1", ".", None),
        ("18.1", ",", None),
        ("1.234,5", ",", 1234.5),
        ("1,234.5", ".", 1234.5),
        ("1,234", ",", 1.234),
        ("1,234", ".", None),
        ("1.234", ",", None),
        ("1.234.567", ",", 1234567.0),
        ("1,234,567", ".", 1234567.0),
        ("1 234,5", ",", 1234.5),
        ("1\u00a0234.5", ".", 1234.5),
        ("1'234.5", ".", 1234.5),
        ("−3.5", ".", -3.5),
        ("+3", ".", 3.0),
        ("1e3", ".", 1000.0),
        ("12,34.5", ".", None),
        ("18 g", ".", None),
        ("0x10", ".", None),
        ("1_000", ".", None),
        ("abc", ".", None),
    ],
)
def test_numbers_by_mark(text: str, mark: DecimalMark, value: float | None) -> None:
    assert one(text, mark) == value


def test_a_workbook_keeps_its_own_points_beside_text_with_commas() -> None:
    assert one("18.5", ",", typed=True) == 18.5
    assert one("18,5", ",", typed=True) == 18.5


def test_a_cells_own_per_cent_sign_wins() -> None:
    assert one("1.35%", percent=True) == 1.35
    assert one("1,35 %", ",", percent=True) == 1.35
    assert one("1.35%", ".", "fraction", percent=True) == 1.35
    assert one("1.35%") is None


@pytest.mark.parametrize(
    ("value", "conversion", "expected"),
    [
        # Fahrenheit: 212 F and 32 F are the boiling and freezing points, 100 C and 0 C
        (212, "fahrenheit", 100.0),
        (32, "fahrenheit", 0.0),
        # international avoirdupois ounce and pound: 28.349523125 g and 453.59237 g exactly
        (2, "ounces", 56.69904625),
        (1, "pounds", 453.59237),
        (0.25, "kilograms", 250.0),
        (18100, "milligrams", 18.1),
        (2.5, "minutes", 150.0),
        (12, "hours", 43200.0),
        (28500, "milliseconds", 28.5),
        (0.0137, "fraction", 1.37),
        (13.7, "permille", 1.37),
        # 130.53 psi are 9.0 bar (1 psi = 0.0689475729 bar)
        (130.5339, "psi", pytest.approx(9.0, abs=1e-4)),
    ],
)
def test_conversions(value: float, conversion: Conversion, expected: float) -> None:
    assert convert(pl.Series([float(value)]), conversion)[0] == expected


@pytest.mark.parametrize(
    ("text", "conversion", "seconds"),
    [
        ("0:28", "mm_ss", 28.0),
        ("2:30", "mm_ss", 150.0),
        ("2:30.5", "mm_ss", 150.5),
        ("2:30,5", "mm_ss", 150.5),
        ("90:00", "mm_ss", 5400.0),
        ("28", "mm_ss", None),
        ("0:02:30", "mm_ss", None),
        ("2:75", "mm_ss", None),
        ("0:02:30", "h_mm_ss", 150.0),
        ("12:00:00", "h_mm_ss", 43200.0),
        ("2:30", "h_mm_ss", None),
        ("0:28:00", "clock_as_mm_ss", 28.0),
        ("2:30:00", "clock_as_mm_ss", 150.0),
        ("36:15:00", "clock_as_mm_ss", 2175.0),
        ("2:30", "clock_as_mm_ss", 150.0),
        ("0:02:30", "clock_as_mm_ss", None),
        ("0:02:30", "clock_as_h_mm_ss", 150.0),
        ("2:30", "clock_as_h_mm_ss", 150.0),
    ],
)
def test_times_with_colons(text: str, conversion: Conversion, seconds: float | None) -> None:
    assert one(text, ".", conversion) == seconds
