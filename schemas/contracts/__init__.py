"""The contracts of all input tables, parents before children."""

from __future__ import annotations

from schemas.contracts.attributes import ATTRIBUTES
from schemas.contracts.brews import BREWS
from schemas.contracts.calibrations import CALIBRATIONS
from schemas.contracts.choices import CHOICES
from schemas.contracts.coffees import COFFEES
from schemas.contracts.dryings import DRYINGS
from schemas.contracts.fractions import FRACTIONS
from schemas.contracts.grinders import GRINDERS
from schemas.contracts.instruments import INSTRUMENTS
from schemas.contracts.lots import LOTS
from schemas.contracts.readings import READINGS
from schemas.contracts.servings import SERVINGS
from schemas.contracts.steeps import STEEPS
from schemas.contracts.targets import TARGETS
from schemas.contracts.tastings import TASTINGS
from schemas.contracts.traces import TRACES
from schemas.table import Table

TABLES: dict[str, Table] = {
    table.name: table
    for table in (
        COFFEES,
        LOTS,
        GRINDERS,
        INSTRUMENTS,
        CALIBRATIONS,
        ATTRIBUTES,
        TARGETS,
        BREWS,
        READINGS,
        DRYINGS,
        SERVINGS,
        TASTINGS,
        CHOICES,
        FRACTIONS,
        STEEPS,
        TRACES,
    )
}
"""Every input table by name, in an order that puts parents before children."""
