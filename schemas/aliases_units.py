"""How people write units in a header, and which conversion to the contract's unit each one asks for."""

from __future__ import annotations

import unicodedata

from schemas.column import Column

MM_SS, H_MM_SS = "mm_ss", "h_mm_ss"

UNITS: dict[str, dict[str, tuple[str, ...]]] = {
    "g": {
        "": ("g", "gr", "gram", "grams", "gramme", "grammes"),
        "ounces": ("oz", "ounce", "ounces"),
        "pounds": ("lb", "lbs", "pound", "pounds"),
        "kilograms": ("kg", "kilo", "kilos", "kilogram", "kilograms"),
        "milligrams": ("mg", "milligram", "milligrams"),
    },
    "C": {"": ("c", "celsius", "centigrade"), "fahrenheit": ("f", "fahrenheit")},
    "s": {
        "": ("s", "sec", "secs", "second", "seconds"),
        "minutes": ("min", "mins", "minute", "minutes"),
        "hours": ("h", "hr", "hrs", "hour", "hours"),
        "milliseconds": ("ms", "msec", "millisecond", "milliseconds"),
        MM_SS: ("mm:ss", "m:ss", "min:sec", "min:s", "m:s", "minutes:seconds", "mmss"),
        H_MM_SS: ("hh:mm:ss", "h:mm:ss", "h:m:s"),
    },
    "%": {
        "": ("%", "pct", "percent", "percentage"),
        "fraction": ("fraction", "0-1", "0..1"),
        "permille": ("‰", "permille", "promille"),
    },
    "bar": {"": ("bar", "bars"), "psi": ("psi",)},
    "g/s": {"": ("g/s", "gs", "gramspersecond")},
    "um": {"": ("um", "μm", "micron", "microns", "micrometer", "micrometre", "micrometers", "micrometres")},
    "days": {"": ("d", "day", "days")},
}
"""Contract unit to conversion to the ways of writing it (lower case, no spaces, no degree sign)."""

BRIX = ("brix", "bx")
VOLUMES = ("ml", "l", "cl", "floz", "cup", "cups")

UNIT_WORDS = {
    "fahrenheit": "°F",
    "ounces": "oz",
    "pounds": "lb",
    "kilograms": "kg",
    "milligrams": "mg",
    "minutes": "min",
    "hours": "h",
    "milliseconds": "ms",
    "mm_ss": "mm:ss",
    "h_mm_ss": "h:mm:ss",
    "clock_as_mm_ss": "mm:ss",
    "clock_as_h_mm_ss": "mm:ss",
    "fraction": "fraction",
    "permille": "‰",
    "psi": "psi",
}
"""Conversion to the unit a header should name for it."""


def unit_key(text: str) -> str:
    """A unit as written, without what does not matter.

    >>> unit_key(" °F "), unit_key("deg C"), unit_key("in g"), unit_key("mm : ss")
    ('f', 'c', 'g', 'mm:ss')
    """
    folded = unicodedata.normalize("NFKC", text).casefold().replace("µ", "μ").strip()
    folded = folded.removeprefix("in ").replace("degrees", "").replace("deg", "").replace("°", "")
    return "".join(folded.split()).strip(".,;[](){}")


def unit_of(column: Column) -> str:
    """The contract's unit of a column, whole days included."""
    return "days" if column.name.endswith("_days") else column.unit


def conversion_of(column: Column, unit_text: str) -> str | None:
    """Conversion from a unit as written to the column's own; None when it is no unit of this column.

    >>> from schemas.columns import COLUMNS
    >>> conversion_of(COLUMNS["water_temp_c"], "°F"), conversion_of(COLUMNS["dose_g"], "g")
    ('fahrenheit', '')
    """
    key = unit_key(unit_text)
    for conversion, words in UNITS.get(unit_of(column), {}).items():
        if key in words:
            return conversion
    return None
