"""A planned blind session as it is shown: what was drawn and how even it came out, never what is under which code."""

from __future__ import annotations

import polars as pl

from analysis.words import count
from pipeline.cupping.plan import CuppingPlan
from pipeline.cupping.samples import ratio_note
from pipeline.report import Part, Report, as_data

FRAME = {"session_id": pl.String(), "assessor": pl.String(), "position": pl.Int64(), "blind_code": pl.String()}


def caffeine_sentences(plan: CuppingPlan) -> tuple[str, ...]:
    """The estimate, its assumptions and the advice."""
    return plan.caffeine.sentences(n_sessions=len(plan.sittings), ratio_note=ratio_note(plan.samples))


def plan_report(plan: CuppingPlan) -> Report:
    """The plan in words, who is served what code where as rows, the counts as an object."""
    parts = [Part("", _said(plan)), Part("Caffeine", caffeine_sentences(plan))]
    if plan.remarks:
        parts.insert(1, Part("Beware", plan.remarks))
    rows = [
        (one.session_id, name, place, code)
        for one in plan.sittings
        for name, codes in one.orders.items()
        for place, code in enumerate(codes, start=1)
    ]
    return Report(parts, pl.DataFrame(rows, schema=FRAME, orient="row"), _data(plan))


def _said(plan: CuppingPlan) -> tuple[str, ...]:
    wanted, samples = plan.wanted, len(plan.samples)
    times = f", each served {count(wanted.replicates, 'time')} to a palate" if wanted.replicates > 1 else ""
    sittings = f", {count(len(plan.sittings), 'session')}" if len(plan.sittings) > 1 else ""
    cups = plan.draw.cups.shape[2]
    said = [
        f"{count(samples, plan.what)}{times}, {count(len(wanted.assessors), 'assessor')}{sittings}: "
        f"{count(cups, 'cup')} to a palate at a sitting."
    ]
    if plan.draw.spread:
        said += plan.draw.spread.sentences(plan.what)
    if samples > 1:
        said += plan.draw.balance.sentences(plan.what)
    if wanted.replicates == 1 and len(plan.sittings) == 1:
        said.append("No palate gets a cup twice, so nobody can tell how well one repeats itself: see --replicates.")
    said.append(f"Seed {wanted.seed} with the same words draws it again: keep it with the key, not with the sheets.")
    return tuple(said)


def _data(plan: CuppingPlan) -> dict[str, object]:
    return {
        "sessions": [one.session_id for one in plan.sittings],
        "n_samples": len(plan.samples),
        "assessors": list(plan.wanted.assessors),
        "replicates": plan.wanted.replicates,
        "cups_a_sitting": plan.draw.cups.shape[2],
        "balance": as_data(plan.draw.balance),
        "incomplete": as_data(plan.draw.spread),
        "caffeine": {
            **as_data(plan.caffeine),
            "within_at_once": plan.caffeine.within_at_once,
            "within_a_day": plan.caffeine.within_a_day,
        },
        "seed": plan.wanted.seed,
        "served_as": plan.wanted.served_as,
        "remarks": list(plan.remarks),
        "sentences": [*_said(plan), *caffeine_sentences(plan)],
    }
