"""What was planned and what was added: the declared study of a method, its questions and their answers."""

from __future__ import annotations

from analysis import words
from analysis.channeling.seen import NotShown
from analysis.charts.plain_words import degrees, plain_words
from analysis.effects.factors import FACTORS
from analysis.study.questions import p_words, term_words
from pipeline.publish.effects.content import EffectsPage
from pipeline.publish.effects.moves import MethodMoves
from pipeline.publish.effects.studies import StudyAnswer
from pipeline.publish.markup import Head, bullets, escaped, paragraph, table

HEADS = (
    Head("Question"),
    Head("Asked"),
    Head("p", True),
    Head("p, allowing for the number of questions", True),
    Head("How"),
)


def questions(page: EffectsPage, one: MethodMoves) -> str:
    """Every study of this method; nothing where none is declared."""
    return "".join(_study(each) for each in page.studies_of(one.method))


def _study(each: StudyAnswer) -> str:
    head = (
        f"<h3>What was planned, and what was added?</h3>"
        f"{paragraph(f'Study {each.study.study_id}: {each.study.question}')}"
        f"{bullets(plain_words(text) for text in (*each.declared, *each.brews))}"
    )
    if isinstance(each.answer, NotShown):
        return head + paragraph(plain_words(each.answer.said))
    result, asked = each.answer
    said = bullets(plain_words(text) for text in asked.sentences)
    found = [degrees(words.sentence(plain_words(text))) for text in (*result.sentences[:-1], *_tops(each))]
    return f"{head}{said}{_table(each)}<h4>{escaped('Its effects')}</h4>{bullets(found)}"


def _tops(each: StudyAnswer) -> list[str]:
    return [] if isinstance(each.answer, NotShown) else [top.sentence for top in each.answer[0].tops]


def _table(each: StudyAnswer) -> str:
    if isinstance(each.answer, NotShown):
        return ""
    rows = [
        (
            words.capital(term_words(row["term"])) + _place(row["term"], row["per"]),
            "planned" if row["planned"] else "added",
            words.NO_VALUE if row["p_value"] is None else p_words(row["p_value"]),
            words.NO_VALUE if row["p_adjusted"] is None else p_words(row["p_adjusted"]),
            row["how"],
        )
        for row in each.answer[1].table.iter_rows(named=True)
    ]
    return table(HEADS, rows, caption=f"Questions of the study {each.study.study_id}")


def _place(term: str, per: str) -> str:
    factor = FACTORS.get(term)
    return f" on {per.partition(' on ')[2]}" if factor and " on " in per else ""
