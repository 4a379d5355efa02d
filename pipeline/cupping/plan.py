"""A blind session planned: what is asked, drawn and counted, for sheets, key and report."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace

import numpy as np

from analysis.sensory.serving.caffeine import CUPPING_RATIO, MG_PER_G, ML_PER_CUP, CaffeineDose, caffeine_dose
from analysis.sensory.serving.codes import draw_codes
from analysis.sensory.serving.session import Draw, Size, draw_orders
from analysis.words import count, listed
from pipeline.cupping.samples import Chosen, Sample, tasters_who_brewed, too_little
from schemas.problem import ProblemError

MANY_CUPS = 12
"""Cups of one sitting beyond which palates tire; common practice, no source."""


@dataclass(frozen=True)
class Wanted:
    """What is asked for besides the samples.

    `assessors` are names; `served_as` black or milk, `milk_g` to a cup; `ml_per_cup` is what a palate swallows.
    """

    session_id: str
    assessors: tuple[str, ...]
    replicates: int = 1
    n_sessions: int = 1
    most_cups: int | None = None
    served_as: str = "black"
    milk_g: float | None = None
    ml_per_cup: float = ML_PER_CUP
    caffeine_mg_per_g: float = MG_PER_G
    seed: int = 1


@dataclass(frozen=True, slots=True)
class Cup:
    """One bowl: its code, what is in it, and which serving of its sample it is (from 1)."""

    blind_code: str
    sample: Sample
    cup_no: int


@dataclass(frozen=True)
class Sitting:
    """One session: its cups by code, and each assessor's codes in the order of serving."""

    session_id: str
    cups: tuple[Cup, ...]
    orders: dict[str, tuple[str, ...]]


@dataclass(frozen=True)
class CuppingPlan:
    """Everything that was planned; `remarks` are what to tell of it."""

    sittings: tuple[Sitting, ...]
    samples: tuple[Sample, ...]
    wanted: Wanted
    draw: Draw
    caffeine: CaffeineDose
    remarks: tuple[str, ...]

    @property
    def what(self) -> str:
        """What one sample is called."""
        kinds = {one.kind for one in self.samples}
        return kinds.pop() if len(kinds) == 1 else "sample"


def plan_cupping(chosen: Chosen, wanted: Wanted, *, taken_codes: Collection[str] = ()) -> CuppingPlan:
    """Draw codes and orders; the same seed draws the same. ProblemError where it cannot be done."""
    check_assessors(wanted.assessors)
    samples = chosen.samples
    draw = _draw(len(samples), wanted)
    n_cups = len(samples) * wanted.replicates
    codes = draw_codes(n_cups * wanted.n_sessions, taken=taken_codes, rng=np.random.default_rng([wanted.seed, 2]))
    sittings = []
    for place, session_id in enumerate(session_ids(wanted.session_id, wanted.n_sessions)):
        own = codes.codes[place * n_cups : (place + 1) * n_cups]
        cups = [
            Cup(code, samples[cup // wanted.replicates], cup % wanted.replicates + 1) for cup, code in enumerate(own)
        ]
        sittings.append(sitting(session_id, cups, draw, place, wanted.assessors))
    remarks = list(chosen.remarks)
    if codes.used_before:
        remarks.append(f"{count(codes.used_before, 'code')} had to be used again that an earlier session had.")
    if codes.alike:
        remarks.append(f"{count(codes.alike, 'code')} differ in one digit from another: read codes aloud when pouring.")
    return finished(tuple(sittings), samples, wanted, draw, tuple(remarks))


def finished(
    sittings: tuple[Sitting, ...], samples: tuple[Sample, ...], wanted: Wanted, draw: Draw, remarks: tuple[str, ...]
) -> CuppingPlan:
    """The plan with its caffeine and what its pours and people give to tell."""
    strengths = {cup.blind_code: cup.sample.g_per_ml or 1 / CUPPING_RATIO for one in sittings for cup in one.cups}
    doses = [[[strengths[code] for code in one.orders[name]] for one in sittings] for name in wanted.assessors]
    caffeine = caffeine_dose(doses, ml_per_cup=wanted.ml_per_cup, mg_per_g=wanted.caffeine_mg_per_g)
    if wanted.most_cups is None and max(len(one.cups) for one in sittings) > MANY_CUPS:
        remarks = (*remarks, f"{len(sittings[0].cups)} cups at a sitting tire most palates: see --most-cups.")
    pours = _pours(sittings)
    remarks = (
        *remarks,
        *_unserved(sittings),
        *too_little(samples, pours, ml_per_cup=wanted.ml_per_cup),
        *tasters_who_brewed(samples, wanted.assessors),
    )
    return CuppingPlan(sittings, samples, wanted, draw, caffeine, remarks)


def sitting(session_id: str, cups: Sequence[Cup], draw: Draw, place: int, assessors: Sequence[str]) -> Sitting:
    """One session of the draw; `cups` stand in the order of samples and their replicates."""
    orders = {
        name: tuple(cups[cup].blind_code for cup in row)
        for name, row in zip(assessors, draw.cups[place].tolist(), strict=True)
    }
    return Sitting(session_id, tuple(sorted(cups, key=lambda cup: cup.blind_code)), orders)


def session_ids(name: str, n_sessions: int) -> tuple[str, ...]:
    """The ids of the sessions of a plan.

    >>> session_ids("june", 1), session_ids("june", 2)
    (('june',), ('june-1', 'june-2'))
    """
    return (name,) if n_sessions == 1 else tuple(f"{name}-{place}" for place in range(1, n_sessions + 1))


def check_assessors(assessors: Sequence[str]) -> None:
    """ProblemError where nobody tastes, somebody has no name, or two have the same."""
    if not assessors:
        raise ProblemError("Who tastes? Add --assessor NAME (may be repeated), or --assessors N for N without names.")
    if any(not name.strip() for name in assessors):
        raise ProblemError("An assessor without a name cannot be told apart: give each one a name.")
    folded = [name.casefold() for name in assessors]
    twice = sorted({name for name in assessors if folded.count(name.casefold()) > 1})
    if twice:
        raise ProblemError(f"{listed(twice)}: two assessors of one name cannot be told apart. Add an initial.")


def redraw(sittings_cups: Sequence[tuple[str, Sequence[Cup]]], wanted: Wanted) -> CuppingPlan:
    """The plan of cups that have their codes already: orders drawn by the seed, as `plan_cupping` draws them.

    ProblemError where the sessions do not hold the same samples equally often.
    """
    check_assessors(wanted.assessors)
    kinds = [sorted({cup.sample for cup in cups}, key=lambda one: (one.kind, one.id)) for _, cups in sittings_cups]
    if any(kind != kinds[0] for kind in kinds):
        raise ProblemError("The sessions of this key serve different cups: write the sheets of one with --session ID.")
    samples = tuple(kinds[0])
    by_sample = [[[cup for cup in cups if cup.sample == sample] for sample in samples] for _, cups in sittings_cups]
    served = {len(cups) for groups in by_sample for cups in groups}
    if len(served) > 1:
        raise ProblemError(
            f"This key serves its samples {listed(sorted(map(str, served)))} times; sheets are balanced where all are "
            "served equally often. Complete the key, or leave cups out of it."
        )
    wanted = replace(wanted, replicates=served.pop(), n_sessions=len(sittings_cups))
    draw = _draw(len(samples), wanted)
    sittings = []
    for place, ((session_id, _), groups) in enumerate(zip(sittings_cups, by_sample, strict=True)):
        cups = [cup for group in groups for cup in sorted(group, key=lambda one: (one.cup_no, one.blind_code))]
        sittings.append(sitting(session_id, cups, draw, place, wanted.assessors))
    return finished(tuple(sittings), samples, wanted, draw, ())


def _draw(n_samples: int, wanted: Wanted) -> Draw:
    size = Size(n_samples, len(wanted.assessors), wanted.replicates, wanted.n_sessions, wanted.most_cups)
    return draw_orders(size, rng=np.random.default_rng([wanted.seed, 1]))


def _unserved(sittings: Sequence[Sitting]) -> list[str]:
    """Samples that a session's key lists and nobody is served there."""
    said = []
    for one in sittings:
        served = {code for codes in one.orders.values() for code in codes}
        names = {cup.sample.id for cup in one.cups} - {cup.sample.id for cup in one.cups if cup.blind_code in served}
        if names:
            said.append(f"At session {one.session_id} nobody is served {listed(sorted(names))}: no need to make it.")
    return said


def _pours(sittings: Sequence[Sitting]) -> dict[Sample, int]:
    """How many palates drink from each sample, all its cups and sessions together."""
    sample_of = {(one.session_id, cup.blind_code): cup.sample for one in sittings for cup in one.cups}
    pours = dict.fromkeys(sample_of.values(), 0)
    for one in sittings:
        for codes in one.orders.values():
            for code in codes:
                pours[sample_of[one.session_id, code]] += 1
    return pours
