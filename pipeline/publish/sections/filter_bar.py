"""The filter: coffee, method, operator, channeling, dates; and the key of colours and shapes."""

from __future__ import annotations

from analysis import words
from analysis.charts.brews import BrewMarks
from analysis.charts.coffees import CoffeeKey
from pipeline.publish.markup import escaped
from pipeline.publish.records import Choices

SHAPES = {
    "clean": '<circle cx="6" cy="6" r="4.5"/>',
    "channeled": '<path d="M1 2h10l-5 9z"/>',
    "not looked at": '<rect x="2" y="2" width="8" height="8" fill="none"/>',
}

HOW = (
    "Tick what to keep; with nothing ticked in a group, all of it is kept. Sentences and tables always state all brews."
)


def filter_bar(marks: BrewMarks, offered: Choices) -> str:
    """The bar that stays in view: what is drawn, what is marked, and the folded filter."""
    groups = [
        boxes("k", "Coffee", [(coffee.label, swatch(coffee)) for coffee in marks.coffees]),
        boxes("m", "Method", [(words.method_word(method), "") for method in offered.methods]),
        boxes("o", "Brewed by", [(operator, "") for operator in offered.operators]),
        boxes("t", "Channeling", [(state, shape(state)) for state in offered.states]),
    ]
    dates = (
        "<fieldset><legend>Brewed</legend><div class=options>"
        '<label>from <input type="date" id="from"></label>'
        '<label>to <input type="date" id="to"></label></div></fieldset>'
    )
    return (
        '<nav id="bar" aria-label="Filter"><div>'
        "<details data-keep><summary>Filter the charts</summary>"
        f'<form id="filters"><p>{HOW}</p>'
        f'{"".join(groups)}{dates}<button type="reset">Show all</button></form></details>'
        '<p id="status" role="status"></p><p id="marked" role="status"></p>'
        '<button type="button" id="clear" hidden>Clear marks</button></div></nav>'
        "<noscript><p>Charts and filters need scripts; every number also stands in the tables.</p></noscript>"
    )


def boxes(name: str, legend: str, options: list[tuple[str, str]]) -> str:
    """A group of boxes to tick, with a picture beside each; nothing where there is no choice."""
    if len(options) < 2:
        return ""
    ticks = "".join(
        f'<label><input type="checkbox" name="{name}" value="{k}">{picture}{escaped(text)}</label>'
        for k, (text, picture) in enumerate(options)
    )
    return f"<fieldset><legend>{escaped(legend)}</legend><div class=options>{ticks}</div></fieldset>"


def swatch(coffee: CoffeeKey) -> str:
    """A dot in the coffee's colour."""
    return _dot(f"k{coffee.hue}", SHAPES["clean"])


def shape(state: str) -> str:
    """The shape of a channeling state, in ink."""
    return _dot("ink", SHAPES[state])


def _dot(kind: str, drawing: str) -> str:
    return f'<svg class="dot {kind}" viewBox="0 0 12 12" aria-hidden="true">{drawing}</svg>'


def colour_key(marks: BrewMarks) -> str:
    """The key above the charts: a colour per coffee, a shape per channeling state."""
    coloured = [coffee for coffee in marks.coffees if not coffee.is_grey]
    grey = [coffee for coffee in marks.coffees if coffee.is_grey]
    items = [f"<li>{swatch(coffee)}{escaped(coffee.label)}</li>" for coffee in coloured]
    if grey:
        others = f"{words.count(len(grey), 'coffee')} brewed less often"
        items.append(f"<li>{swatch(grey[0])}{escaped(others)}</li>")
    shapes = [f"<li>{shape(state)}{escaped(state)}</li>" for state in SHAPES if state in set(marks.all["state"])]
    return f'<ul class="key" aria-label="Colours and shapes">{"".join(items)}{"".join(shapes)}</ul>'
