"""What a recipe would give: yield and strength over two settings, inside what was brewed."""

from __future__ import annotations

from analysis import words
from analysis.charts.effects.contours import contour_chart
from analysis.charts.plain_words import degrees, plain_words
from analysis.effects.factors import FACTORS
from analysis.prediction.contours import Contours
from analysis.prediction.rows import setting_words
from pipeline.publish.content import Drawing, Section
from pipeline.publish.effects.content import EffectsPage
from pipeline.publish.effects.moves import MethodMoves
from pipeline.publish.markup import figure, pair, paragraph

HEADING = "<h3>What would a recipe give?</h3>"


def recipes(page: EffectsPage, one: MethodMoves) -> Section:
    """Two panels for the coffee brewed most, or why there are none."""
    found = one.contours
    if not isinstance(found, Contours):
        return Section(f"{HEADING}{paragraph(plain_words(found.said))}")
    if found.cells.is_empty():
        return Section(f"{HEADING}{paragraph('No cell of the two settings lies inside what was brewed.')}")
    ids = f"contour-{one.method}-yield", f"contour-{one.method}-strength"
    drawings = (
        Drawing(ids[0], contour_chart(found, "extraction_yield_pct")),
        Drawing(ids[1], contour_chart(found, "cup_tds_pct")),
    )
    figures = figure(ids[0], "Expected yield"), figure(ids[1], "Expected strength")
    return Section(f"{HEADING}{paragraph(_said(page, found))}{pair(*figures)}", drawings)


def _said(page: EffectsPage, found: Contours) -> str:
    nouns = [FACTORS[name].noun for name in (found.x_factor, found.y_factor)]
    coffee = page.coffees[found.coffee].label if found.coffee in page.coffees else found.coffee or "a new coffee"
    held = [degrees(setting_words(name, value)) for name, value in found.held.items()]
    rest = f", {words.listed(held)} held" if held else ""
    brews = f"{words.count(found.n_brews, 'brew')} of {words.count(found.n_coffees, 'coffee')}"
    return (
        f"The mean that the model expects of {coffee} over {words.listed(nouns)}{rest}; {brews}. Blank: not brewed, so "
        "nothing is said. A single brew scatters about it; `brewtrials predict` gives both intervals for any recipe."
    )
