"""The first screen of the page: the question, the answer, and what each method's brews can say."""

from __future__ import annotations

from analysis import words
from analysis.channeling.seen import NotShown
from analysis.charts.answer import answer
from analysis.charts.plain_words import plain_words
from analysis.diagnostics.report import Diagnosis
from pipeline.publish.document import INDEX, link_to
from pipeline.publish.effects.content import EffectsPage
from pipeline.publish.effects.moves import MethodMoves
from pipeline.publish.markup import Head, bullets, escaped, paragraph, table

QUESTION = "What moved extraction?"
HEADS = (
    Head("Method"),
    Head("Brews compared", True),
    Head("Coffees", True),
    Head("Can they answer?"),
    Head("Speaks for"),
)
ANSWERS = {"can": "yes", "can in part": "in part", "cannot": "no"}
LIMIT = (
    "Brews of a log were not assigned by lot: what moved together with something nobody logged shares its effect. "
    "Nothing here reaches beyond the settings that were brewed. Sentences and intervals rest on every brew, whatever "
    "the filter shows."
)


def first_screen(page: EffectsPage) -> str:
    """Heading, answer, one line per method, links."""
    n_brews, n_yields = page.marks.all.height, page.marks.all["y"].count()
    found = answer([one.effects for one in page.moves], n_brews=n_brews, n_yields=n_yields)
    said = paragraph(found.said[0], kind="said") + "".join(map(paragraph, found.said[1:]))
    unread = paragraph(plain_words(page.studies.said), kind="next stop") if isinstance(page.studies, NotShown) else ""
    return (
        f"<header>{paragraph(page.settings.name or 'Brew trials', kind='lab')}<h1>{escaped(QUESTION)}</h1>{said}"
        f"{paragraph(found.note, kind='note')}{unread}{_methods(page)}{paragraph(LIMIT, kind='note')}"
        f"{bullets(_refused(page))}"
        f"{link_to(INDEX, 'What to brew next? Back to the brews')}</header>"
    )


def _methods(page: EffectsPage) -> str:
    rows = [_row(one) for one in page.moves if one.result is not None]
    return table(HEADS, rows, caption="By method: what its brews can say of the settings") if rows else ""


def _row(one: MethodMoves) -> tuple[object, ...]:
    result = one.result
    verdict = ANSWERS[one.diagnosis.answer] if isinstance(one.diagnosis, Diagnosis) else "not checked"
    return (
        words.capital(words.method_word(one.method)),
        result.n_brews if result else 0,
        result.n_coffees if result else 0,
        verdict,
        result.scope.removeprefix("for ") if result else "",
    )


def _refused(page: EffectsPage) -> list[str]:
    return [
        f"{words.capital(words.method_word(one.method))}: {plain_words(one.effects.refusal)}"
        for one in page.moves
        if one.result is None
    ]
