"""Brew methods and the mass balance each one follows."""

from __future__ import annotations

from typing import Literal

MassBalance = Literal["percolation", "immersion"]

METHODS = (
    "espresso",
    "pour_over",
    "batch_brew",
    "immersion",
    "cupping",
    "moka",
    "cold_brew",
    "steep_release",
    "boiled",
    "other",
)
BALANCE_OF_METHOD: dict[str, MassBalance] = {
    "espresso": "percolation",
    "pour_over": "percolation",
    "batch_brew": "percolation",
    "moka": "percolation",
    "immersion": "immersion",
    "cupping": "immersion",
    "cold_brew": "immersion",
    "steep_release": "immersion",
    "boiled": "immersion",
}
"""`other` is missing on purpose: such a brew must say which mass balance applies."""

PRESSURISED_METHODS = ("espresso", "moka")
METHOD_WORDS = {name: name.replace("_", " ") for name in METHODS}
