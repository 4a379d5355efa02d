"""The closed lists: what can be explained, what by, how a practical step of each is put, and what levels may differ."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from schemas.columns import COLUMNS

Role = Literal["setting", "outcome", "time"]


@dataclass(frozen=True, slots=True)
class Factor:
    """A column that may explain another.

    `step` in the column's unit is the default change an effect is stated for; `counted` is the word where steps are
    counted ("step", "day"), else the unit is used; `change` puts one step in words; `noun` names the column in prose.
    `role`: an outcome of other factors, a time (an outcome of percolation, a setting of immersion), or a setting.
    """

    name: str
    noun: str
    change: str
    step: float = 1.0
    counted: str = ""
    role: Role = "setting"

    @property
    def is_yes_no(self) -> bool:
        """True for a yes/no column, whose step is always yes against no."""
        return COLUMNS[self.name].kind == "boolean"

    def per(self, step: float) -> str:
        """The change in words: '1 step', '0.1 g/g', 'yes against no'."""
        if self.is_yes_no:
            return "yes against no"
        word = self.counted or COLUMNS[self.name].unit
        return f"{step:g} {word}{'s' if self.counted and step != 1 else ''}"

    def change_words(self, step: float) -> str:
        """One step up in words, for the head of a sentence.

        >>> FACTORS["grind_steps_finer"].change_words(1), FACTORS["water_temp_c"].change_words(2)
        ('one step finer', '2 C hotter')
        """
        amount = f"one {self.counted}" if self.counted and step == 1 else self.per(step)
        return self.change.format(amount=amount)


_FACTORS = (
    Factor("grind_steps_finer", "grind", "{amount} finer", counted="step"),
    Factor("grind_um_finer", "grind", "{amount} finer"),
    Factor("water_temp_c", "water temperature", "{amount} hotter"),
    Factor("beverage_ratio", "beverage ratio", "{amount} more beverage per dose", step=0.1),
    Factor("water_ratio", "water ratio", "{amount} more water per dose"),
    Factor("total_water_ratio", "total water ratio", "{amount} more water and bypass per dose"),
    Factor("planned_beverage_ratio", "planned beverage ratio", "{amount} more beverage planned per dose", step=0.1),
    Factor("planned_water_ratio", "planned water ratio", "{amount} more water planned per dose"),
    Factor("dose_g", "dose", "{amount} more dose"),
    Factor("water_g", "water", "{amount} more water"),
    Factor("beverage_g", "beverage", "{amount} more beverage"),
    Factor("bypass_g", "bypass", "{amount} more bypass"),
    Factor("pressure_bar", "pressure", "{amount} more pressure"),
    Factor("preinfusion_s", "preinfusion", "{amount} longer preinfusion"),
    Factor("first_drip_s", "time to first drip", "first drip {amount} later", role="time"),
    Factor("brew_time_s", "brew time", "{amount} longer", role="time"),
    Factor("days_off_roast", "days off roast", "{amount} more off roast", counted="day"),
    Factor("run_order", "order within the session", "{amount} later in the session", counted="brew"),
    Factor("channeled", "channeling", "channeled against clean", role="outcome"),
)
FACTORS: dict[str, Factor] = {factor.name: factor for factor in _FACTORS}
"""What may explain a response, by column name."""

RESPONSES = (
    "extraction_yield_pct",
    "extraction_yield_dry_pct",
    "tds_pct",
    "cup_tds_pct",
    "dissolved_g",
    "beverage_g",
    "beverage_ratio",
    "retained_g",
    "retained_ratio",
    "brew_time_s",
    "first_drip_s",
    "pressure_bar",
)
"""What may be explained."""

GROUPS: dict[str, str] = {
    "coffee_id": "coffee",
    "lot_id": "lot",
    "recipe_id": "recipe",
    "study_id": "study",
    "operator": "operator",
    "site": "site",
    "session_id": "session",
    "block": "block",
    "machine_id": "machine",
    "grinder_id": "grinder",
    "basket": "basket",
    "brewer": "brewer",
    "water_id": "water",
}
"""Columns whose levels may differ, with the word for one of them."""

DIAL = "grind_steps_finer"
"""The one factor whose unit differs from grinder to grinder."""

_YIELD = {"percolation": "beverage_g", "immersion": "water_g"}
INGREDIENTS: dict[str, tuple[str, ...]] = {
    "extraction_yield_pct": ("dose_g", "yield liquid"),
    "extraction_yield_dry_pct": ("dose_g", "yield liquid"),
    "dissolved_g": ("yield liquid",),
    "beverage_ratio": ("beverage_g", "dose_g"),
    "water_ratio": ("water_g", "dose_g"),
    "total_water_ratio": ("water_g", "bypass_g", "dose_g"),
    "retained_g": ("water_g", "beverage_g"),
    "retained_ratio": ("water_g", "beverage_g", "dose_g"),
}
"""Weighed quantities inside a derived one; the yield's liquid depends on the mass balance."""


def ingredients(name: str, balances: tuple[str, ...]) -> frozenset[str]:
    """The weighed columns that `name` is computed from, under these mass balances; itself if it is weighed."""
    liquids = tuple(_YIELD[balance] for balance in balances if balance in _YIELD)
    parts = INGREDIENTS.get(name, (name,))
    return frozenset(part for entry in parts for part in (liquids if entry == "yield liquid" else (entry,)))


def shared_weights(response: str, name: str, balances: tuple[str, ...]) -> list[str]:
    """Weighed columns inside both a response and a factor: an error of weighing moves the two together."""
    return sorted(ingredients(response, balances) & ingredients(name, balances))


def many(word: str) -> str:
    """The plural of a plain noun.

    >>> many("coffee"), many("study"), many("process")
    ('coffees', 'studies', 'processes')
    """
    if word.endswith("y"):
        return word[:-1] + "ies"
    return word + ("es" if word.endswith("s") else "s")


def plural(word: str, count: int) -> str:
    """Count and noun: '1 brew', '2 studies', '3 coffees'."""
    return f"{count} {word if count == 1 else many(word)}"


def difference_unit(name: str) -> str:
    """The unit a change of this column is stated in: percentages change by points."""
    unit = COLUMNS[name].unit
    return "points" if unit == "%" else unit
