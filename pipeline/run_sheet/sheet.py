"""What a run sheet holds, whichever way it is written: its rows, its columns, how to use it, what to beware of."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from analysis.planning.sheet import SheetRow
from analysis.words import count
from schemas.methods import BALANCE_OF_METHOD

ASKED = (
    ("planned_grind_setting", "Grind", ""),
    ("planned_water_temp_c", "Water", "C"),
    ("planned_pressure_bar", "Pressure", "bar"),
    ("planned_preinfusion_s", "Preinfusion", "s"),
    ("planned_brew_time_s", "Brew time", "s"),
    ("planned_dose_g", "Dose", "g"),
    ("planned_water_g", "Water in", "g"),
    ("planned_beverage_g", "In the cup", "g"),
)
"""What to set, in the order of doing it: column, word, unit."""
CAUTIONS = (
    "Near-boiling water, steam and pressurised brewers burn: follow the maker's manual and your workplace rules; leave "
    "boilers and mains to licensed people.",
    "Food hygiene follows your local codes.",
    "Tasting adds up caffeine: published guidance for healthy adults is up to 400 mg a day and 200 mg at once (EFSA "
    "2015), less in pregnancy. Spit, share or stop; where in doubt, ask a licensed physician.",
)


@dataclass(frozen=True)
class RunSheet:
    """Rows in the order of brewing, with `study_id`, the method, what was drawn (`seed`) and remarks on the plan."""

    study_id: str
    method: str
    rows: Sequence[SheetRow]
    seed: int
    notes: Sequence[str] = ()

    @property
    def n_brews(self) -> int:
        """Brews, purges not counted."""
        return sum(not row.purge for row in self.rows)

    @property
    def asked(self) -> tuple[tuple[str, str, str], ...]:
        """The columns of `ASKED` that any row has."""
        return tuple(one for one in ASKED if any(one[0] in row.cells for row in self.rows))

    @property
    def typed(self) -> tuple[str, ...]:
        """The cells that are typed at the counter, in their order."""
        water = ("water_g",) if self._weighs_water else ()
        beverage = () if BALANCE_OF_METHOD.get(self.method) == "immersion" else ("beverage_g",)
        return ("brewed_at", "dose_g", *water, *beverage, "tds_pct", "channeling")

    @property
    def _weighs_water(self) -> bool:
        asked = {name for name, _, _ in self.asked}
        return BALANCE_OF_METHOD.get(self.method) == "immersion" or "planned_water_g" in asked

    @property
    def title(self) -> str:
        """The sheet's heading."""
        return f"Run sheet of {self.study_id}: {count(self.n_brews, 'brew')}"


def instructions(sheet: RunSheet) -> tuple[str, ...]:
    """How to brew and fill in the sheet, in the order of the work."""
    purge = (
        "A purge takes out what the grinder still holds of the last setting: brew or grind it, throw it away, write "
        "nothing."
    )
    return (
        "Brew from top to bottom: the order is random so that a warming grinder or a tiring palate cannot pass for an "
        "effect. A brew that failed stays where it is; do not move others up.",
        *([purge] if any(row.purge for row in sheet.rows) else []),
        "Write down the time (a day will do, but then nobody can tell the order), what the weighing scale shows, the "
        "reading and the channeling you saw; leave channeling empty where you did not look.",
        "Grind, temperature and the like are filled in as planned: where you set something else, type over it.",
        "A brew that was not made keeps its row as it is; rows without anything typed are not taken in.",
        "A brew that is no true record (wrong cup, spilt) gets a void_reason.",
    )


def steps_to_ingest(name: str) -> str:
    """What to do with the workbook once it is filled in."""
    return (
        f"Save, then: brewtrials ingest {name} --lab YOUR-PROJECT-FOLDER. Half-filled sheets may go in and again later."
    )
