"""A setting in words: its value with the unit, and all settings of one brew."""

from __future__ import annotations

from analysis.diagnostics.case import Case
from analysis.effects.factors import FACTORS
from analysis.physics import plain
from schemas.columns import COLUMNS
from schemas.methods import BALANCE_OF_METHOD


def unit_of(name: str) -> str:
    """The unit of a factor as it follows a number: 'steps', 'C', 'g/g'; empty for yes or no.

    >>> unit_of("grind_steps_finer"), unit_of("water_temp_c")
    ('steps', 'C')
    """
    counted = FACTORS[name].counted
    return f"{counted}s" if counted else COLUMNS[name].unit


def value_words(name: str, value: float) -> str:
    """A value of a factor with its unit.

    >>> value_words("water_temp_c", 93.5), value_words("grind_steps_finer", 1), value_words("channeled", 1)
    ('93.5 C', '1 step', 'yes')
    """
    if FACTORS[name].is_yes_no:
        return "yes" if value else "no"
    unit = FACTORS[name].counted if FACTORS[name].counted and value == 1 else unit_of(name)
    return f"{_plain(value)} {unit}".strip()


def span_words(name: str, low: float, high: float) -> str:
    """Two values of a factor with its unit.

    >>> span_words("grind_steps_finer", -1.5, 1)
    '-1.5 to 1 steps'
    """
    return f"{_plain(low)} to {_plain(high)} {unit_of(name)}".strip()


def setting_words(name: str, value: float) -> str:
    """A factor with its value.

    >>> setting_words("beverage_ratio", 2.4)
    'beverage ratio 2.4 g/g'
    """
    return f"{FACTORS[name].noun} {value_words(name, value)}"


def is_result(case: Case, name: str) -> bool:
    """Whether a factor follows from the settings, so that it cannot be brewed on purpose.

    Channeling always does; brew time does in percolation, where grind and dose decide it.
    """
    role = FACTORS[name].role
    percolates = BALANCE_OF_METHOD.get(case.brews["method"][0]) != "immersion"
    return role == "outcome" or (role == "time" and percolates)


def at_settings(case: Case, row: int) -> str:
    """The settings of one brew: 'brew b017 (grind 0 steps, water temperature 93 C)'."""
    parts = [setting_words(name, float(case.brews[name][row])) for name in case.request.factors]
    return f"brew {case.brews['brew_id'][row]} ({', '.join(parts)})"


def _plain(value: float) -> str:
    shown = plain(value, 2)
    return "0" if shown in ("-0", "0", "") else shown
