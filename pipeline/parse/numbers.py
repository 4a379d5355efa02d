"""Text to numbers, by the sheet's decimal mark and the column's unit; what is no number stays null."""

from __future__ import annotations

from functools import partial
from typing import Final

import polars as pl

from pipeline.parse.model import Conversion, DecimalMark

FACTORS: Final[dict[Conversion, float]] = {
    "ounces": 28.349523125,
    "pounds": 453.59237,
    "kilograms": 1000.0,
    "milligrams": 0.001,
    "minutes": 60.0,
    "hours": 3600.0,
    "milliseconds": 0.001,
    "fraction": 100.0,
    "permille": 0.1,
    "psi": 0.0689475729,
}
"""Multiply by these to reach g, s, % and bar (international avoirdupois pound; psi by the same pound and 0.0254 m)."""

CLEAN_DIGITS = 9
"""Decimals kept after a conversion, so that 0.0137 as a fraction is 1.37 and not 1.3699999999999999."""

_M_SS = r"^(\d{1,3}):()([0-5]\d(?:[.,]\d+)?)$"
_H_M_SS = r"^(\d{1,3}):([0-5]\d):([0-5]\d(?:[.,]\d+)?)$"
_AS_TYPED = r"^(\d{1,3}):([0-5]\d):(00(?:[.,]0+)?)$"
_SPACES = "[ \u00a0\u2009\u202f'\u2019]"
_SPACED = rf"^[-+]?\d{{1,3}}({_SPACES}\d{{3}})+([.,]\d+)?$"


def parse_numbers(
    text: pl.Series, *, mark: DecimalMark, typed: bool = False, conversion: Conversion = "", percent: bool = False
) -> pl.Series:
    """Numbers of one column (Float64) in the contract's unit; null where a cell is no number, NaN and inf kept.

    Thousands separators count where a cell leaves no doubt (1,234.5 or 1.234.567). `percent` lets a cell carry its
    own per cent sign, which then wins over the conversion.
    """
    if conversion in ("mm_ss", "h_mm_ss", "clock_as_mm_ss", "clock_as_h_mm_ss"):
        return _durations(text, conversion)
    values = convert(_plain_numbers(text, mark=mark, typed=typed), conversion)
    left = (text.is_not_null() & values.is_null()).arg_true()
    if left.is_empty():
        return values
    odd = text.gather(left)
    found = convert(_grouped(odd, mark=mark), conversion)
    if percent:
        signed = odd.str.strip_suffix("%").str.strip_chars()
        as_percent = _plain_numbers(signed, mark=mark, typed=typed)
        found = pl.select(pl.when(odd.str.ends_with("%")).then(as_percent).otherwise(found)).to_series()
    return values.scatter(left, found)


def convert(values: pl.Series, conversion: Conversion) -> pl.Series:
    """Numbers of a header's unit in the contract's unit.

    >>> convert(pl.Series([212.0]), "fahrenheit").to_list(), convert(pl.Series([0.0137]), "fraction").to_list()
    ([100.0], [1.37])
    """
    if not conversion:
        return values
    if conversion == "fahrenheit":
        return ((values - 32) / 1.8).round(CLEAN_DIGITS)
    return (values * FACTORS[conversion]).round(CLEAN_DIGITS)


def _plain_numbers(text: pl.Series, *, mark: DecimalMark, typed: bool) -> pl.Series:
    if mark == ".":
        return text.cast(pl.Float64, strict=False)
    pointed = text.str.replace(",", ".", literal=True).cast(pl.Float64, strict=False)
    if typed:
        return pointed
    return pl.select(pl.when(~text.str.contains(".", literal=True)).then(pointed)).to_series()


def _grouped(text: pl.Series, *, mark: DecimalMark) -> pl.Series:
    """Numbers with thousands separators, and with a typographic minus."""
    group = "," if mark == "." else "."
    g, m = rf"\{group}", rf"\{mark}"
    doubtless = rf"^[-+]?\d{{1,3}}(({g}\d{{3}})+{m}\d+|({g}\d{{3}}){{2,}})$"
    bare = text.str.replace("−", "-", literal=True)
    digits = (
        pl.when(bare.str.contains(doubtless))
        .then(bare.str.replace_all(group, "", literal=True))
        .when(bare.str.contains(_SPACED))
        .then(bare.str.replace_all(_SPACES, ""))
        .when(bare != text)
        .then(bare)
    )
    return _plain_numbers(pl.select(digits).to_series(), mark=mark, typed=False)


def _durations(text: pl.Series, conversion: Conversion) -> pl.Series:
    """Seconds of minutes:seconds or hours:minutes:seconds."""
    seconds = {
        "mm_ss": [partial(_colon, pattern=_M_SS, first=60)],
        "h_mm_ss": [partial(_colon, pattern=_H_M_SS, first=3600)],
        "clock_as_mm_ss": [
            partial(_colon, pattern=_M_SS, first=60),
            partial(_colon, pattern=_AS_TYPED, first=60, second=1),
        ],
        "clock_as_h_mm_ss": [partial(_colon, pattern=_M_SS, first=60), partial(_colon, pattern=_H_M_SS, first=3600)],
    }[conversion]
    return pl.select(pl.coalesce(way(text) for way in seconds)).to_series()


def _colon(text: pl.Series, *, pattern: str, first: int, second: int = 60) -> pl.Series:
    """Parts between colons, the first and second in seconds each; the third is seconds already."""
    parts = [text.str.extract(pattern, place).str.replace(",", ".", literal=True) for place in (1, 2, 3)]
    a, b, c = (part.cast(pl.Float64, strict=False) for part in parts)
    return a * first + b.fill_null(0) * second + c.fill_null(0)
