"""What drying and weighing say: strengths by oven, and whether the weights of brews add up."""

from __future__ import annotations

from typing import Any

from analysis.measurement.closure import Closure, mass_closure
from analysis.measurement.closure_words import closure_sentences, suspect_sentence
from analysis.measurement.drying_words import (
    OVEN_CAUTION,
    common_notes,
    dried_sentences,
    drying_sentences,
    own_notes,
    refusal_sentence,
)
from analysis.words import count
from pipeline.measurement.gather import OF_LOT_AND_SCALE, Gathered
from pipeline.report import Part

MOST_SUSPECTS = 12
"""Suspects named on screen; the flags name them all."""


def drying_part(gathered: Gathered, instrument_id: str | None) -> Part | None:
    """Strengths by drying, of all ovens or of one; None where nothing was dried."""
    drying = gathered.drying()
    done = [brew for brew in drying.brews if instrument_id in (None, brew.oven)]
    refused = [brew for brew in drying.refused if instrument_id in (None, brew.oven)]
    if not done and not refused:
        return None
    said = [*drying_sentences(drying)]
    alone = own_notes(done)
    said += [" ".join(dried_sentences(brew, notes=alone)) for brew in done]
    said += common_notes(done)
    said += [refusal_sentence(brew) for brew in refused]
    silent = sum(brew.budget is None for brew in done)
    if silent:
        said.append(
            f"{count(silent, 'strength')} by drying without an uncertainty: no reference for a correction. Name the "
            "weighing scale of the dishes (scale_id), with its standard_uncertainty in the instruments table."
        )
    return Part("Strength by drying", [*said, f"Caution: {OVEN_CAUTION}"])


def drying_findings(gathered: Gathered, instrument_id: str | None) -> list[tuple[Any, ...]]:
    """Strengths by drying as rows of `FINDING`."""
    return [
        ("drying", brew.brew_id, "strength by drying", brew.tds_pct, brew.budget and brew.budget.low,
         brew.budget and brew.budget.high, "%", len(brew.dishes), f"n counts dishes dried in {brew.oven}")
        for brew in gathered.drying().brews
        if instrument_id in (None, brew.oven)
    ]  # fmt: skip


def closure_of(gathered: Gathered) -> Closure:
    """Whether the weights of the lab's brews add up."""
    facts = gathered.brews.drop("brew", *OF_LOT_AND_SCALE)
    return mass_closure(facts, gathered.instruments, settings=gathered.settings)


def closure_part(gathered: Gathered) -> Part | None:
    """Mass closure and likely weighing errors; None where there are no brews."""
    closure = closure_of(gathered)
    if not closure.methods and not closure.screens:
        return None
    named = {suspect_sentence(one) for one in closure.suspects[MOST_SUSPECTS:]}
    said = [text for text in closure_sentences(closure) if text not in named]
    if named:
        said.append(f"And {len(named)} more: brewtrials flags lists them all.")
    return Part("Do the weights add up?", said)


def closure_findings(gathered: Gathered) -> list[tuple[Any, ...]]:
    """Pooled residuals of the methods as rows of `FINDING`."""
    rows: list[tuple[Any, ...]] = []
    for one in closure_of(gathered).methods:
        basis = f"{one.n_closed} of {one.n_judged} add up within twice their standard uncertainty"
        rows.append(
            ("closure", one.method, "unaccounted for", one.mean_g, one.low_g, one.high_g, "g", one.n_brews, basis)
        )
    return rows
