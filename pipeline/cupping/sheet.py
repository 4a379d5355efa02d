"""What a score sheet says, on paper or in a workbook: never what is in a cup."""

from __future__ import annotations

from dataclasses import dataclass

from pipeline.cupping.plan import CuppingPlan, Sitting
from pipeline.cupping.scales import Scale

CAUTIONS = (
    "Hot liquids scald: let the cups cool before tasting.",
    "Say before tasting what you may not have: coffee may be served with milk and may have met nuts, gluten or other "
    "allergens; allergens and food hygiene follow your local code. Clean cups, a clean spoon of your own, fresh water.",
    "Tasting adds up caffeine: published guidance for healthy adults is up to 200 mg at once and 400 mg a day, in "
    "pregnancy 200 mg a day (EFSA 2015). Spit, share or stop; ask a physician where in doubt.",
)
"""On every sheet; hygiene is common practice, no source."""


@dataclass(frozen=True)
class ScoreSheet:
    """One assessor's sheet of one session: codes in the order of serving, scales, how the coffee is served."""

    session_id: str
    assessor: str
    codes: tuple[str, ...]
    scales: tuple[Scale, ...]
    served_as: str
    milk_g: float | None

    @property
    def served(self) -> str:
        """How the coffee is served, in words."""
        if self.served_as == "black":
            return "Served black."
        return f"Served in milk: {self.milk_g:g} g to a cup." if self.milk_g else "Served in milk."


@dataclass(frozen=True)
class ScoreSheets:
    """The sheets of one session, and the caffeine of a sitting in words."""

    session_id: str
    sheets: tuple[ScoreSheet, ...]
    scales: tuple[Scale, ...]
    caffeine: str


def score_sheets(plan: CuppingPlan, scales: tuple[Scale, ...], caffeine: str) -> tuple[ScoreSheets, ...]:
    """The sheets of every session of a plan."""
    return tuple(ScoreSheets(one.session_id, _sheets(plan, one, scales), scales, caffeine) for one in plan.sittings)


def _sheets(plan: CuppingPlan, one: Sitting, scales: tuple[Scale, ...]) -> tuple[ScoreSheet, ...]:
    wanted = plan.wanted
    return tuple(
        ScoreSheet(one.session_id, name, codes, scales, wanted.served_as, wanted.milk_g)
        for name, codes in one.orders.items()
    )


def instructions() -> tuple[str, ...]:
    """How to taste and score, in the order of the work."""
    return (
        "Taste the cups in the order of the sheet, from the first to the last: it is drawn so that no cup gains by its "
        "place or its neighbour. Compare the code on the cup with the sheet before you taste.",
        "Taste alone and in silence; rinse with water and wait a little between cups.",
        "Give every cup a score on every scale. Leave a score empty where you did not taste; 0 is a score.",
        "A cup that is spilt, cold or wrong: leave it empty and say so under notes.",
    )


def steps_to_ingest(name: str) -> str:
    """What to do with the workbook once it is filled in."""
    return (
        f"Save, then: brewtrials ingest {name} --lab YOUR-PROJECT-FOLDER. Rows without a score are passed over, so "
        "half-filled sheets may go in, and again later. The key goes in the same way; before it is there, scores wait."
    )
