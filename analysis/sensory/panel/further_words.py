"""What else a panel leader should know: serving order, crowded ends, gaps, and opinions kept apart."""

from __future__ import annotations

import numpy as np

from analysis.findings import Finding
from analysis.mixed.fit import FTest
from analysis.sensory.panel.attribute import LEVEL, AttributeResult
from analysis.sensory.panel.order import OrderEffect
from analysis.sensory.panel.products import PLURAL
from analysis.sensory.panel.tidy import PanelRows, Scores
from analysis.words import count, listed, number, p_range, sentence, signed, span

ON_THE_END = 40.0
"""From this percent of scores on one end of the scale on, a mean and its model are a rough picture."""


def f_words(test: FTest) -> str:
    """F with its degrees of freedom.

    >>> f_words(FTest(4.1234, 2, 18.47, 0.03))
    'F(2, 18) = 4.12'
    """
    return f"F({test.df_num}, {np.floor(test.df_den + 1e-9):.0f}) = {test.statistic:.2f}"


def order_findings(attributes: tuple[AttributeResult, ...]) -> list[Finding]:
    """Whether the place in the serving order moved scores, or why that cannot be told."""
    asked = [one for one in attributes if isinstance(one.order, OrderEffect)]
    if not asked:
        reasons = {one.order.reason for one in attributes if one.spread and not isinstance(one.order, OrderEffect)}
        said = "; ".join(sorted(reasons))
        return (
            [
                Finding(
                    "order",
                    "worth knowing",
                    sentence(f"Order: {said}"),
                    "Write it down: the first cup is often scored apart.",
                )
            ]
            if said
            else []
        )
    moved = [one for one in asked if one.order_p is not None and one.order_p < LEVEL]
    if not moved:
        said = f"The place in the serving order was not seen to move any of {count(len(asked), 'attribute')}"
        return [Finding("order", "fine", sentence(said), "Nothing to do.")]
    return [_moved(one, one.order) for one in moved if isinstance(one.order, OrderEffect)]


def _moved(result: AttributeResult, order: OrderEffect) -> Finding:
    said = (
        f"{result.attribute} moved with the place in the serving order ({f_words(order.test)}, adjusted "
        f"{p_range(result.order_p)}, n = {order.n_scores}): the first cup {signed(order.first, 2)} "
        f"({span(order.first_low, order.first_high, 2)}) beside the later ones, {signed(order.per_place, 2)} "
        f"({span(order.per_place_low, order.per_place_high, 2)}) with every place"
    )
    return Finding(
        "order", "worth knowing", sentence(said), "Serve a warm-up cup that does not count, and balance the order."
    )


def end_findings(rows: PanelRows) -> list[Finding]:
    """Attributes whose scores crowd on one end of the scale."""
    shares = {one.attribute: _end_share(one) for one in rows.scores.values() if not one.is_yes_no}
    heavy = [f"{name} {number(share, 0)} %" for name, share in shares.items() if share >= ON_THE_END]
    if not heavy:
        return []
    said = f"Many scores sit on one end of the scale: {listed(heavy)}. Means hide that; the ranks beside them do not"
    do = "Trust such an attribute only where ranks and means say the same, or drop it from the sheet."
    return [Finding("scale", "worth knowing", sentence(said), do)]


def _end_share(scores: Scores) -> float:
    return (
        float(100 * max(np.mean(scores.y <= scores.low), np.mean(scores.y >= scores.high))) if np.ptp(scores.y) else 0.0
    )


def gap_findings(rows: PanelRows) -> list[Finding]:
    """Cups not tasted, scores skipped, rows left out."""
    missed, skipped = sum(rows.gaps.not_tasted.values()), sum(rows.gaps.skipped.values())
    found = []
    if missed or skipped:
        whole = rows.gaps.n_cups * len(rows.assessors)
        said = (
            f"{missed:,} of {whole:,} cups ({count(rows.gaps.n_cups, 'cup')} for each of {len(rows.assessors)}) were "
            f"not tasted and {count(skipped, 'score')} skipped; gaps stay gaps: people are compared over shared cups"
        )
        found.append(Finding("gaps", "worth knowing", sentence(said), "Nothing to do if the plan left them out."))
    if rows.left_out:
        found.append(
            Finding("left out", "worth knowing", sentence(f"Left out: {'; '.join(rows.left_out)}"), "Complete them.")
        )
    return found


def opinion_findings(rows: PanelRows, opinions: tuple[AttributeResult, ...]) -> list[Finding]:
    """Liking, apart from everything else and labelled as this panel's own."""
    if not opinions:
        return []
    hits = [one.attribute for one in opinions if one.separates]
    shown = (
        f"it differs between the {PLURAL[rows.kind]} in {listed(hits)}"
        if hits
        else f"no difference between the {PLURAL[rows.kind]} was seen"
    )
    said = (
        f"{listed([one.attribute for one in opinions])} is this panel's opinion, not consumers': {shown} "
        f"(n = {opinions[0].n_assessors} assessors); nobody is right or wrong in it, so nobody is checked on it"
    )
    return [
        Finding("liking", "worth knowing", sentence(said), "Ask consumers before saying that people like one more.")
    ]
