"""Order within the session in words: settings that moved with it, drift, and brews that resemble their neighbour."""

from __future__ import annotations

import numpy as np

from analysis.diagnostics.case import Case, less, term_noun
from analysis.diagnostics.collinearity import correlation
from analysis.diagnostics.least_squares import PlainFit
from analysis.diagnostics.residual_order import TOLD, along, drift, neighbours, share_told, with_sessions
from analysis.diagnostics.residual_words import Check
from analysis.diagnostics.seen import Seen
from analysis.diagnostics.sittings import Sittings
from analysis.effects.checks import MIN_SPARE
from analysis.effects.factors import difference_unit, many
from analysis.effects.fit import Floats
from analysis.effects.words import decimals, plain, signed
from analysis.findings import Finding, Weight
from analysis.words import capital, count, number

TOPIC = "order of brewing"
IN_ORDER = 0.7
"""Correlation of a setting with the place in the session from which a drift can pass for its effect."""
ENOUGH = 6


def confounded(case: Case, sittings: Sittings | None) -> list[Seen]:
    """Settings that went one way along the sessions, so that a drift would pass for their effect."""
    if sittings is None:
        said = f"Neither sessions nor days are known for all {case.of}: drift along a session cannot be looked for."
        do = "Log the session and the order of brewing (session_id, run_order)."
        return [Seen(Finding(TOPIC, "worth knowing", said, do))]
    if case.n < ENOUGH or sittings.place.max() < 2:
        return []
    sessions = with_sessions(case.levels, sittings)
    if share_told(sessions, sittings) < TOLD:
        return [_by_group(case, sittings)]
    order = less(along(sittings.place, sittings), sessions)
    seen = []
    for k, term in enumerate(case.terms):
        column = less(case.slopes[:, k], sessions)
        r = correlation(column, order) if len(term.factors) == 1 and "run_order" not in term.factors else 0.0
        if abs(r) >= IN_ORDER and np.sum(column**2) > 1e-9 * np.sum(case.slopes[:, k] ** 2):
            weight: Weight = "stands in the way" if 1 - r**2 < TOLD else "worth knowing"
            noun, word = term_noun(term), sittings.word
            said = (
                f"{capital(noun)} went {'up' if r > 0 else 'down'} along the {word} (r = {r:.2f} with the order of "
                f"brewing, {case.of}): a grinder that warms or a barista who tires would pass for its effect."
            )
            do = f"Brew the settings in a shuffled order within each {word}; a run sheet does that."
            seen.append(Seen(Finding(TOPIC, weight, said, do), term.factors if weight == "stands in the way" else ()))
    return seen


def _by_group(case: Case, sittings: Sittings) -> Seen:
    """The order of brewing is that of the groups: a drift hides in their levels."""
    word, many_groups = sittings.word, many(case.word)
    said = (
        f"Every {word} went through the {many_groups} in the same order ({case.of}): a drift along the {word} cannot "
        f"be told from the difference between {many_groups}."
    )
    do = f"Shuffle the {many_groups} within each {word}, or brew one of them at its start and its end."
    return Seen(Finding(TOPIC, "worth knowing", said, do))


def order_checks(
    case: Case, fit: PlainFit, sittings: Sittings | None, *, rng: np.random.Generator
) -> tuple[Check | None, ...]:
    """Drift along the sessions and resemblance of neighbours, each None where these brews cannot show it."""
    if sittings is None or "run_order" in case.request.factors:
        return ()
    model = _model(fit, sittings)
    if share_told(model, sittings) < TOLD:
        return ()
    return _drift(case, model, sittings), _neighbours(case, model, sittings, rng=rng)


def _model(fit: PlainFit, sittings: Sittings) -> Floats:
    """The fit's columns, with a level for each session where brews can carry that."""
    richer = with_sessions(fit.x, sittings)
    return richer if richer.shape[0] - richer.shape[1] - 1 >= MIN_SPARE else fit.hat


def _drift(case: Case, model: Floats, sittings: Sittings) -> Check | None:
    found = drift(case.y, model, sittings)
    if found is None:
        return None
    places = decimals(found.low, found.high)
    unit, word = difference_unit(case.request.response), sittings.word
    change = (
        f"{signed(found.estimate, places)} {unit} a brew, 95 % interval {plain(found.low, places)} to "
        f"{plain(found.high, places)}"
    )
    way = "rise" if found.estimate > 0 else "fall"
    return Check(
        f"trend along the {word}",
        found.estimate,
        found.p_value,
        f"Residuals {way} along the {word}: {change}; {case.of}: the grinder warms, or the barista tires",
        f"Shuffle the order of settings within each {word}, and purge and warm up before the first brew.",
        (),
        f"{change}; df {found.df}",
    )


def _neighbours(case: Case, model: Floats, sittings: Sittings, *, rng: np.random.Generator) -> Check | None:
    found = neighbours(case.y, model, sittings, rng=rng)
    if found is None:
        return None
    alike = found.correlation > found.usual
    what = (
        "a brew resembles the one before it: something carries over, such as grounds left in the grinder"
        if alike
        else "a high brew is followed by a low one: someone corrects after each brew"
    )
    figures = f"lag-1 correlation {number(found.correlation, 2)}, by chance {number(found.usual, 2)}"
    do = (
        "Purge the grinder after each change, and read the intervals as somewhat too narrow."
        if alike
        else "Hold the recipe still between brews of one setting."
    )
    return Check(
        "neighbours (lag 1, shuffled orders)",
        found.correlation,
        found.p_value,
        f"Within a {sittings.word} {what} ({figures}, {count(found.n_pairs, 'pair')})",
        do,
        (),
        f"{figures}; {count(found.n_pairs, 'pair')}",
    )
