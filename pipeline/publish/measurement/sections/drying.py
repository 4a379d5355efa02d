"""Strength by drying: what an oven says, beside what the refractometers read."""

from __future__ import annotations

from analysis import words
from analysis.measurement.drying import DriedBrew
from analysis.measurement.drying_words import LEFT_OUT, OVEN_CAUTION, drying_sentences, refusal_sentence
from pipeline.publish.content import Section
from pipeline.publish.markup import Head, bullets, folded, paragraph, section, table
from pipeline.publish.measurement.content import MeasuredPage

NOTHING = (
    "No sample was dried in an oven, so no reading is held against a weighed reference. Dry two or three samples of a "
    "brew to constant mass and enter the weighings in the dryings table: they count as reference checks."
)
BESIDE = "How the refractometers compare with the oven stands under the agreement of instruments and among the checks."
HEADS = (
    Head("Brew"),
    Head("Oven"),
    Head("Strength by drying, %", True),
    Head("95 % interval", True),
    Head("Dishes", True),
    Head("Dishes left out"),
    Head("Read on refractometers, %", True),
)
METHOD = (
    "Per dish 100 (residue - blank) / sample; a dish counts once its last two weighings agree. Display steps, what is "
    "left of the weighing scale's calibration, the blank, the last change of mass, the scatter of dishes and the "
    "declared volatile loss make the interval.",
)


def drying(page: MeasuredPage) -> Section:
    """Sentences, a table of dried brews, and the caution that belongs beside every oven."""
    found = page.drying
    if not found.brews and not found.refused:
        return Section(section("drying", "What does an oven say?", paragraph(NOTHING), paragraph(OVEN_CAUTION)))
    html = section(
        "drying",
        "What does an oven say?",
        bullets(drying_sentences(found)),
        paragraph(BESIDE if found.brews else ""),
        _table(page) if found.brews else "",
        bullets([*map(refusal_sentence, found.refused), *_notes(found.brews)]),
        paragraph(OVEN_CAUTION),
        folded("Method note: drying", bullets(METHOD)),
    )
    return Section(html)


def _notes(brews: tuple[DriedBrew, ...]) -> list[str]:
    """What the intervals leave out; a note that does not hold for all brews names those that it holds for."""
    holding: dict[str, list[str]] = {}
    for brew in brews:
        for note in brew.notes:
            holding.setdefault(note, []).append(brew.brew_id)
    return [
        words.sentence(note if len(names) == len(brews) else f"{words.listed(names)}: {note}")
        for note, names in sorted(holding.items())
    ]


def _left_out(brew: DriedBrew) -> str:
    """How many dishes do not count, and why."""
    why = sorted({LEFT_OUT[state] for _, state in brew.left_out})
    return f"{len(brew.left_out)} ({words.listed(why)})" if why else "0"


def _table(page: MeasuredPage) -> str:
    read = dict(page.brews.select("brew_id", "tds_pct").iter_rows())
    rows = [_cells(brew, read.get(brew.brew_id)) for brew in page.drying.brews]
    return table(HEADS, rows, caption="Strength by drying")


def _cells(brew: DriedBrew, read_pct: float | None) -> tuple[object, ...]:
    budget = brew.budget
    return (
        brew.brew_id,
        brew.oven,
        words.number(brew.tds_pct, 3),
        words.span(budget.low, budget.high, 3) if budget else "no uncertainty stated",
        len(brew.dishes),
        _left_out(brew),
        words.number(read_pct, 3) if read_pct is not None else "not read",
    )
