"""How the numbers were made, the cautions, and the footer."""

from __future__ import annotations

import polars as pl

from analysis.measurement.correction_words import declared_words
from analysis.words import sentence
from pipeline.publish.content import PageInput, Section
from pipeline.publish.markup import bullets, folded, paragraph, section
from pipeline.publish.sections.first_screen import days_of
from schemas.lab import LabSettings
from schemas.methods import PRESSURISED_METHODS

METHOD = (
    "Extraction yield is dissolved coffee as a share of the dose. Percolation (espresso, pour over, batch brew, moka): "
    "beverage weight times strength. Full immersion: all the liquid counts, also what the grounds hold, so the water "
    "weight is used. Yields on the two mass balances are not compared with each other here.",
    "Strength is the mean of a brew's readings, after any correction the project declares. Bypass is put back where "
    "the log says how it was weighed and read.",
    "Standard uncertainties follow first-order propagation with independent inputs (JCGM 100:2008, 5.1.2): readings' "
    "repeatability, the instrument's own figure and resolution, the weighing scale.",
    "Effects: one coffee, least squares with HC3 standard errors and t(n - p); several, a mixed model with a level "
    "per coffee (REML, Satterthwaite degrees of freedom). Factors are centred. Void brews and brews with a missing "
    "value are left out and counted.",
    "Grind counts in dial units finer than the reference of that coffee, grinder and method. Dial units of two "
    "grinders are not the same size and are never pooled.",
    "Intervals hold 95 % of the time if the model is right. Several intervals at once miss more often than one.",
)
HOT = "Near-boiling water, hot brewers and drying ovens burn: follow the maker's manual and the workplace's rules."
PRESSURE = "Espresso and moka brew under pressure: never open a brewer that is hot or under pressure."
CAFFEINE = (
    "Tasting adds up: up to 400 mg caffeine a day and 200 mg at once is the published guidance for healthy adults "
    "(EFSA 2015), less in pregnancy. Spit, share or stop; ask a physician where in doubt."
)
LIMIT = "The statistics support a decision; they certify neither a product nor an instrument."


def notes(page: PageInput) -> Section:
    """Method note, cautions, footer."""
    pressurised = bool(set(page.facts["method"]) & set(PRESSURISED_METHODS))
    cautions = [HOT, *([PRESSURE] if pressurised else []), CAFFEINE, LIMIT]
    html = section("method", "How these numbers were made", folded("Method note", bullets(METHOD)))
    html += section("cautions", "Before the next brew", bullets(cautions))
    return Section(html)


def footer(page: PageInput) -> str:
    """The footer of the dashboard."""
    return page_footer(page.settings, page.manifest_number, page.facts)


def page_footer(settings: LabSettings, manifest_number: int, facts: pl.DataFrame) -> str:
    """Number of the ingest, the data's own dates, the project."""
    name = settings.name or "this project folder"
    when = days_of(facts)
    return (
        f"<footer>{paragraph(f'Made from ingest {manifest_number} of {name}. {when}')}"
        f"{paragraph(sentence(declared_words(settings.corrections)))}"
        f"{paragraph(f'Rebuild it from the same data: `brewtrials dashboard --as-of {manifest_number}`')}</footer>"
    )
