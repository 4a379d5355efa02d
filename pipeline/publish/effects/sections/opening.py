"""How a method's block begins: the answer in sentences, then what stands in the way."""

from __future__ import annotations

from analysis import words
from analysis.channeling.matched import MatchedEffect
from analysis.channeling.report import ChannelingReport
from analysis.channeling.words import matched_sentences
from analysis.charts.effect_words import SaidEffect, single_effects
from analysis.charts.plain_words import degrees, plain_words
from analysis.diagnostics.report import Diagnosis
from analysis.findings import Finding
from pipeline.publish.effects.moves import MethodMoves
from pipeline.publish.markup import bullets, folded, paragraph

MOST_SETTINGS = 2
MOST_NAMED = 6


def answer_sentences(one: MethodMoves) -> list[str]:
    """One to three sentences: the clearest settings, and channeling at the same recipe; or why none can be said."""
    if one.result is None:
        return [plain_words(one.effects.refusal)]
    stated = [effect for effect in single_effects(one.result) if effect.is_stated]
    settled = sorted((effect for effect in stated if effect.is_settled), key=_order)[:MOST_SETTINGS]
    said = [words.sentence(degrees(effect.sentence)) for effect in settled]
    if not said:
        said = [_nothing_settled(one, stated)]
    return [*said, *_channeling(one)]


def _order(effect: SaidEffect) -> tuple[bool, float]:
    """Settings that share no weights with the yield first, then the clearest."""
    return effect.shares_weights, -effect.clearness


def _nothing_settled(one: MethodMoves, stated: list[SaidEffect]) -> str:
    result = one.result
    n = words.count(result.n_brews, "brew") if result else ""
    of = f"{n} of {words.count(result.n_coffees, 'coffee')}, {result.scope}" if result else ""
    if not stated:
        return f"No setting can be said to have moved the yield ({of}); what stands in the way is below."
    widest = max(stated, key=lambda effect: max(-effect.row["low"], effect.row["high"]))
    return (
        f"The direction of no setting is settled ({of}); what is most open: "
        f"{degrees(widest.sentence.partition(',')[0])}, 95 % interval "
        f"{words.span(widest.row['low'], widest.row['high'], 2)}."
    )


def _channeling(one: MethodMoves) -> list[str]:
    report = one.channeling
    if not isinstance(report, ChannelingReport) or not isinstance(report.effect, MatchedEffect):
        return []
    return [words.sentence(matched_sentences(report.effect, method=one.method)[0])]


def answer(one: MethodMoves) -> str:
    """The answer, the first sentence in strong type."""
    first, *rest = answer_sentences(one)
    return paragraph(first, kind="said") + "".join(map(paragraph, rest))


def in_the_way(one: MethodMoves) -> str:
    """The verdict, what stands in the way and what to do; what is fine is folded away."""
    found = one.diagnosis
    if not isinstance(found, Diagnosis):
        return ""
    heavy = [finding for finding in found.findings if finding.weight == "stands in the way"]
    known = [finding for finding in found.findings if finding.weight == "worth knowing"]
    fine = [finding for finding in found.findings if finding.weight == "fine"]
    kind = "next" if found.answer == "can" else "next stop"
    return (
        f"<h3>Can these brews answer it?</h3>"
        f'<div class="{kind}">{paragraph(plain_words(found.verdict))}</div>'
        f"{bullets(map(finding_words, heavy))}"
        f"{'<p>Worth knowing:</p>' if known else ''}{bullets(map(finding_words, known))}"
        f"{folded(f'Checks that found nothing ({len(fine)})', bullets(plain_words(one.said) for one in fine))}"
        f"{paragraph(one.sampled, kind='note')}"
    )


def finding_words(one: Finding) -> str:
    """What was seen and what to do, as one entry of a list."""
    return plain_words(f"{words.sentence(one.said)} {words.sentence(one.do)}".strip())
