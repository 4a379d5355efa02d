"""Channeling, and what goes by way of outcomes: total against direct."""

from __future__ import annotations

from analysis import words
from analysis.channeling.report import ChannelingReport
from analysis.channeling.report import Section as Answered
from analysis.channeling.risk import ChannelingRisk
from analysis.channeling.screen import LowBrew, LowYieldScreen
from analysis.charts.effects.effect_rows import CHANGE, mediated_rows
from analysis.charts.effects.interval_rows import interval_chart
from analysis.charts.effects.risk_rows import RISK, effect_rows, risk_row, risk_rows
from analysis.charts.plain_words import degrees, plain_words
from analysis.outcomes.mediators import Mediation
from pipeline.publish.content import Drawing, Section
from pipeline.publish.effects.moves import MethodMoves
from pipeline.publish.markup import Head, bullets, escaped, figure, folded, pair, paragraph, table

LOOK_HEADS = (
    Head("Brew"),
    Head("Noted as"),
    Head("Yield, % of dose", True),
    Head("Its recipe predicts", True),
    Head("95 % interval for one such brew", True),
    Head("How far out"),
)
TOTAL = (
    "Filled: in total, whatever way it goes. Hollow: directly, which is what is left between brews of equal outcomes."
)
AGAIN = "Look at these again"
SECOND_LOOK, RISK_ASKED = "Which brews deserve a second look?", "What goes with channeling?"


def channeling(one: MethodMoves) -> Section:
    """How often, what it goes with, what channeled brews yielded, bounds, and brews to look at again."""
    report = one.channeling
    if not isinstance(report, ChannelingReport):
        return Section(f"<h3>Channeling</h3>{paragraph(report.said)}")
    title = words.capital(words.method_word(one.method))
    drawings, figures = [], []
    if rows := effect_rows(report):
        chart_id = f"channeled-{one.method}"
        drawings.append(Drawing(chart_id, interval_chart(f"{title}: channeled less clean", rows, CHANGE)))
        figures.append(figure(chart_id, "Channeled less clean, at the same recipe"))
    if isinstance(report.risk, ChannelingRisk):
        chart_id = f"risk-{one.method}"
        chart = interval_chart(f"{title}: risk of channeling", risk_rows(report.risk), RISK)
        drawings.append(Drawing(chart_id, chart))
        figures.append(figure(chart_id, "Risk of channeling, from the mean recipe"))
    first, *rest = report.sections
    html = (
        f"<h3>Channeling</h3>{''.join(paragraph(text) for text in first.sentences)}{pair(*figures) if figures else ''}"
    )
    html += "".join(_question(each, report) for each in rest if _is_new(each, report))
    return Section(html, tuple(drawings))


def _is_new(each: Answered, report: ChannelingReport) -> bool:
    """Where no brew was looked at, that stands in the first answer: only the brews to look at again are new."""
    return bool(report.counts.looked_at) or each.question == SECOND_LOOK


def _question(each: Answered, report: ChannelingReport) -> str:
    lead, *more = [degrees(text) for text in each.sentences] or [""]
    if each.question == SECOND_LOOK and isinstance(report.screen, LowYieldScreen) and report.screen.found:
        head = f"<h4>{escaped(AGAIN)}</h4>{paragraph(lead)}{_look_again(report.screen)}"
        return head + "".join(paragraph(text, kind="note") for text in more[len(report.screen.found) :])
    if each.question == RISK_ASKED and isinstance(report.risk, ChannelingRisk):
        lead, more = _clear_risks(report.risk), [lead, *more]
    return f"<h4>{escaped(each.question)}</h4>{paragraph(lead)}{folded('More on this', bullets(more))}"


def _clear_risks(risk: ChannelingRisk) -> str:
    """The changes whose interval leaves no change of the risk out, each with its risk before and after."""
    on = f"{words.count(risk.n_brews, 'brew')} looked at, {risk.n_channeled} channeled, for these coffees"
    clear = [effect for effect in risk.effects if not effect.odds_low <= 1 <= effect.odds_high]
    if not clear:
        return f"These brews settle for no setting which way the risk of channeling goes with it ({on})."
    said = [f"{degrees(row.name)}: {row.words}" for row in map(risk_row, clear)]
    return f"{'; '.join(said)} ({on})."


def _look_again(screen: LowYieldScreen) -> str:
    return table(LOOK_HEADS, [_cells(low) for low in screen.found], caption=f"{AGAIN}: unflagged, and low in yield")


def _cells(low: LowBrew) -> tuple[str, ...]:
    return (
        low.brew_id,
        "clean" if low.looked_at else "not looked at",
        words.number(low.yielded, 1),
        words.number(low.predicted, 1),
        words.span(low.low, low.high, 1),
        "beyond chance" if low.strong else "worth a look",
    )


def total_against_direct(one: MethodMoves) -> Section:
    """Every setting in total, and at equal outcomes."""
    heading = "<h3>Directly, or by way of brew time and channeling?</h3>"
    found = one.mediation
    if not isinstance(found, Mediation):
        return Section(f"{heading}{paragraph(plain_words(found.said))}")
    rows = mediated_rows(found)
    if not rows:
        return Section(f"{heading}{paragraph('Each grinder has an effect of its own here: ask for one at a time.')}")
    chart_id = f"direct-{one.method}"
    title = words.capital(words.method_word(one.method))
    said = bullets(words.sentence(degrees(row.sentence())) for row in found.rows)
    html = (
        f"{heading}{paragraph(found.question)}"
        f"{pair(figure(chart_id, 'In total, and directly', TOTAL), f'<div>{said}</div>')}"
        f"{paragraph(f'Rests on {found.basis()}.', kind='note')}"
    )
    chart = interval_chart(f"{title}: in total and at equal outcomes", rows, CHANGE)
    return Section(html, (Drawing(chart_id, chart),))
