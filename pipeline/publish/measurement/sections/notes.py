"""What holds for the whole page, the cautions, and the footer."""

from __future__ import annotations

from analysis.measurement.correction_words import declared_words
from analysis.words import sentence
from pipeline.publish.content import Section
from pipeline.publish.markup import bullets, paragraph, section
from pipeline.publish.measurement.content import MeasuredPage
from pipeline.publish.sections.first_screen import days_of
from pipeline.publish.sections.notes import HOT, LIMIT

HOLDS = (
    "Void brews, readings on milk drinks and Brix without a declared factor count nowhere here.",
    "Intervals hold 95 % of the time if what is stated of the instruments is true. Several at once miss more often.",
)


def notes(_page: MeasuredPage) -> Section:
    """General remarks and cautions."""
    return Section(section("holds", "What holds for all of this", bullets([*HOLDS, HOT, LIMIT])))


def footer(page: MeasuredPage) -> str:
    """Number of the ingest, the data's own dates, the project."""
    name, when = page.settings.name or "this project folder", days_of(page.brews)
    return (
        f"<footer>{paragraph(f'Made from ingest {page.manifest_number} of {name}. {when}')}"
        f"{paragraph(sentence(declared_words(page.settings.corrections)))}"
        f"{paragraph(f'Rebuild it from the same data: `brewtrials dashboard --as-of {page.manifest_number}`')}</footer>"
    )
