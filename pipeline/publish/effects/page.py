"""The page on what moved extraction: one HTML file beside the dashboard."""

from __future__ import annotations

from pathlib import Path

from altair.utils.schemapi import debug_mode

from analysis.charts.effects_forest import effect_domains
from pipeline.publish.content import Section
from pipeline.publish.document import EFFECTS, document, page_data
from pipeline.publish.effects.content import EffectsPage
from pipeline.publish.effects.moves import MethodMoves
from pipeline.publish.effects.sections.first_screen import QUESTION, first_screen
from pipeline.publish.effects.sections.method import method_block
from pipeline.publish.markup import bullets, paragraph, section
from pipeline.publish.records import CARD, brew_records, choices
from pipeline.publish.sections.filter_bar import colour_key, filter_bar
from pipeline.publish.sections.notes import HOT, LIMIT, page_footer

HOLDS = (
    "Intervals hold 95 % of the time if the model is right. Several at once miss more often than one.",
    "Void brews count nowhere; brews that lack a value of a setting are left out of that method's model and counted.",
    "An error common to all readings, such as a refractometer that reads high, moves every yield and hardly a "
    "difference.",
)


def write_effects(page: EffectsPage, out_dir: Path) -> Path:
    """Write `effects.html` into `out_dir` and return its path; the same input gives the same bytes."""
    out_dir.mkdir(parents=True, exist_ok=True)
    path = out_dir / EFFECTS
    path.write_text(effects_html(page), encoding="utf-8", newline="\n")
    return path


def effects_html(page: EffectsPage) -> str:
    """The whole page as text."""
    offered = choices(page.marks)
    with debug_mode(False):
        parts = _blocks(page)
        frames = {"brews": brew_records(page.marks, offered, page.flags)}
        for part in parts:
            frames |= part.data
        drawings = [drawing for part in parts for drawing in part.drawings]
        data = page_data(drawings, filters={"m": (("method",), offered.methods)}, frames=frames, card=CARD)
    ending = section("holds", "What holds for all of this", bullets([*HOLDS, HOT, LIMIT]))
    body = (
        first_screen(page)
        + filter_bar(page.marks, offered)
        + f"<main>{colour_key(page.marks) if drawings else ''}{''.join(part.html for part in parts)}{ending}</main>"
        + page_footer(page.settings, page.manifest_number, page.facts)
        + '<div id="card" hidden></div>'
    )
    return document(f"{QUESTION} {page.settings.name}".strip(), body, data)


def _blocks(page: EffectsPage) -> list[Section]:
    fitted = [one for one in page.moves if one.result is not None]
    domains = dict(
        zip(
            [one.method for one in fitted],
            effect_domains([one.result.table for one in fitted if one.result is not None]),
            strict=True,
        )
    )
    blocks = [
        method_block(page, one, domains.get(one.method), is_open=k == 0)
        for k, one in enumerate([*fitted, *_rest(page)])
    ]
    return blocks or [Section(section("none", "Nothing to compare yet", paragraph("No brew has been taken in.")))]


def _rest(page: EffectsPage) -> list[MethodMoves]:
    return [one for one in page.moves if one.result is None]
