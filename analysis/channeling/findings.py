"""What the channeling of these brews asks for: findings with their weight and what to do."""

from __future__ import annotations

from analysis.channeling.bounds import UnseenBounds
from analysis.channeling.matched import MatchedEffect
from analysis.channeling.risk import ChannelingRisk
from analysis.channeling.risk_factors import EVENTS_PER_TERM
from analysis.channeling.screen import LowYieldScreen
from analysis.channeling.second_look_words import TURN_WORDS
from analysis.channeling.seen import NotShown, SeenCounts
from analysis.channeling.words import brew_word, matched_sentences
from analysis.findings import Finding
from analysis.words import count, number

TOPIC = "channeling"
MANY_UNSEEN = 0.2
LOOK = "Look at every brew, and write none, slight or severe."


def effect_finding(effect: MatchedEffect | NotShown, *, method: str) -> Finding:
    """What channeled brews yielded, or why it cannot be said."""
    if isinstance(effect, NotShown):
        return Finding(TOPIC, "stands in the way", effect.said, "Brew recipes that channeled again, and look at each.")
    said = matched_sentences(effect, method=method)[0]
    if effect.settled:
        return Finding(TOPIC, "worth knowing", said, "Compare recipes among clean brews, or say how many channeled.")
    return Finding(TOPIC, "worth knowing", said, "More brews at the recipes that channeled would settle it.")


def risk_finding(risk: ChannelingRisk | NotShown, *, method: str) -> Finding:
    """Whether the risk can be read by factor."""
    if isinstance(risk, NotShown):
        return Finding(TOPIC, "stands in the way", risk.said, LOOK)
    word = brew_word(method)
    if not risk.has_p_values:
        return Finding(
            TOPIC,
            "worth knowing",
            f"{number(risk.events_per_term, 1)} {word}s of the rarer kind a term are too few for p values on the risk "
            f"of channeling ({risk.n_channeled} channeled, {risk.n_clean} clean, {count(risk.n_terms, 'term')}).",
            f"Name fewer factors, or brew until there are {EVENTS_PER_TERM} a term.",
        )
    clear = [effect.change for effect in risk.effects if not effect.odds_low <= 1 <= effect.odds_high]
    what = f"clear of odds unchanged: {'; '.join(clear)}" if clear else "no interval is clear of odds unchanged"
    return Finding(
        TOPIC,
        "fine",
        f"The risk of channeling was set against {count(risk.n_terms, 'change')} of the recipe in {risk.n_brews} "
        f"{word}s; {what}.",
        "Read the odds with their intervals.",
    )


def unseen_finding(bounds: UnseenBounds | None, counts: SeenCounts, *, method: str) -> Finding:
    """Whether not looking stands in the way."""
    word = brew_word(method)
    if bounds is None:
        return Finding(TOPIC, "fine", f"All {count(counts.all, word)} were looked at for channeling.", "Keep it so.")
    share = counts.not_looked_at / counts.all
    some = f"{counts.not_looked_at} of {count(counts.all, word)} were not looked at for channeling."
    said = f"{some} {TURN_WORDS[bounds.turn]}"
    if bounds.turn == "could turn":
        return Finding(TOPIC, "stands in the way", said, LOOK)
    return Finding(TOPIC, "worth knowing" if share > MANY_UNSEEN or bounds.turn != "holds" else "fine", said, LOOK)


def screen_finding(screen: LowYieldScreen | NotShown, *, method: str) -> Finding:
    """Which unflagged brews to look at again."""
    if isinstance(screen, NotShown):
        return Finding(TOPIC, "worth knowing", screen.said, "Brew the same recipes more often.")
    word = brew_word(method)
    tested = count(screen.n_tested, f"unflagged {word}")
    if not screen.found:
        return Finding(TOPIC, "fine", f"None of {tested} yielded far less than its recipe predicts.", "Nothing to do.")
    return Finding(
        TOPIC,
        "worth knowing",
        f"{len(screen.found)} of {tested} yielded far less than the recipe predicts.",
        "Look at these again: the trace, the notes, the weights. Flag one only for what was seen.",
        tuple(low.brew_id for low in screen.found),
    )
