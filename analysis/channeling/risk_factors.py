"""Which factors a model of the risk of channeling holds: those asked for, else those the brews can bear."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import polars as pl

from analysis.effects.factors import DIAL, FACTORS, GROUPS, many, plural
from analysis.words import capital, listed
from schemas.problem import ProblemError

EVENTS_PER_TERM = 5
HELD_SHARE = 0.8
"""A factor is taken up unasked only where at least this share of the brews has it."""
MICROMETRES = "grind_um_finer"
USUAL_STEPS = {MICROMETRES: 10.0}
"""Where the unit of a column is too small a change to read a risk by."""
FIRST = ("dose_g", "pressure_bar", "operator")
NEXT = ("water_temp_c", "preinfusion_s", "days_off_roast", "run_order")
"""Taken up only while the rarer outcome has `EVENTS_PER_TERM` brews for every term."""


@dataclass(frozen=True, slots=True)
class RiskFactors:
    """Columns of FACTORS (`numeric`) and of GROUPS (`levels`), and why others stayed out, in sentences."""

    numeric: tuple[str, ...]
    levels: tuple[str, ...]
    notes: tuple[str, ...]
    asked: bool


def choose_factors(looked_at: pl.DataFrame, asked: Sequence[str] | None) -> RiskFactors:
    """The factors asked for, else grind, dose, pressure and operator where known, then others while events allow."""
    if asked is not None:
        return _asked_for(tuple(asked))
    chosen: list[str] = []
    notes: list[str] = []
    for name in (_grind(looked_at), *FIRST):
        why = _why_not(looked_at, name)
        if why:
            notes.append(why)
        else:
            chosen.append(name)
    rarer = min(int(looked_at["channeled"].sum()), int((~looked_at["channeled"]).sum()))
    terms, crowded = sum(_terms(looked_at, name) for name in chosen), list[str]()
    for name in NEXT:
        if _why_not(looked_at, name):
            continue
        if rarer >= EVENTS_PER_TERM * (terms + 1):
            chosen.append(name)
            terms += 1
        else:
            crowded.append(FACTORS[name].noun)
    if crowded:
        notes.append(
            f"{capital(listed(crowded))} stayed out: that would leave under {EVENTS_PER_TERM} brews of the rarer "
            "kind a term."
        )
    if not chosen:
        raise ProblemError(
            f"No factor can be set against channeling in these {plural('brew', looked_at.height)}. {' '.join(notes)} "
            "Record grind, dose, pressure and operator, and vary them."
        )
    return _sorted_out(chosen, tuple(notes), asked=False)


def _asked_for(asked: tuple[str, ...]) -> RiskFactors:
    allowed = [name for name, factor in FACTORS.items() if factor.role == "setting"] + list(GROUPS)
    for name in asked:
        if name in FACTORS and FACTORS[name].role != "setting":
            raise ProblemError(f"{name} is a result of how the water ran, as channeling is; leave it out.")
        if name not in allowed:
            raise ProblemError(f"{name!r} cannot be set against channeling. The list: {', '.join(allowed)}.")
    if not asked:
        raise ProblemError("No factor is named: say what might go with channeling, such as grind_steps_finer.")
    if {DIAL, MICROMETRES} <= set(asked):
        raise ProblemError(f"{DIAL} and {MICROMETRES} are the same grind in two units; name one of them.")
    return _sorted_out(list(dict.fromkeys(asked)), (), asked=True)


def _sorted_out(chosen: list[str], notes: tuple[str, ...], *, asked: bool) -> RiskFactors:
    numeric = tuple(name for name in chosen if name in FACTORS)
    return RiskFactors(numeric, tuple(name for name in chosen if name not in FACTORS), notes, asked)


def _grind(looked_at: pl.DataFrame) -> str:
    """Dial steps, or micrometres where several grinders all have them: one slope for all."""
    several = looked_at["grinder_id"].drop_nulls().n_unique() > 1
    return MICROMETRES if several and not _why_not(looked_at, MICROMETRES) else DIAL


def _why_not(looked_at: pl.DataFrame, name: str) -> str:
    """Why a factor cannot be taken up unasked; empty where it can."""
    known = looked_at[name].drop_nulls()
    noun = FACTORS[name].noun if name in FACTORS else GROUPS[name]
    if known.is_empty():
        return f"{capital(noun)} was not recorded."
    if len(known) < HELD_SHARE * looked_at.height:
        return f"{capital(noun)} stayed out: only {len(known)} of {plural('brew', looked_at.height)} looked at have it."
    if known.n_unique() == 1:
        return f"{capital(noun)} was the same in all brews looked at."
    return ""


def _terms(looked_at: pl.DataFrame, name: str) -> int:
    """Columns that a factor takes: one a grinder for the dial, one less than the levels of a group."""
    if name == DIAL:
        return max(looked_at["grinder_id"].drop_nulls().n_unique(), 1)
    return 1 if name in FACTORS else looked_at[name].drop_nulls().n_unique() - 1


def level_words(name: str, level: str, reference: str) -> str:
    """A level against the reference, for the head of a sentence.

    >>> level_words("operator", "Ada", "Bo")
    'operator Ada against Bo'
    """
    return f"{GROUPS[name]} {level} against {reference}"


def levels_noun(name: str) -> str:
    """The plural of what a group's levels are."""
    return many(GROUPS[name])
