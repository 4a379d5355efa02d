"""A straight line through a curve with a top: look for it wherever grind is given a straight line."""

from __future__ import annotations

from dataclasses import replace

from scipy import stats

from analysis.effects.checks import label
from analysis.effects.design import build_design
from analysis.effects.model import fit_model
from analysis.effects.request import EffectsRequest
from analysis.effects.rows import ChosenRows
from schemas.problem import ProblemError

GRINDS = ("grind_steps_finer", "grind_um_finer")
MIN_SETTINGS = 3


def find_bends(chosen: ChosenRows, request: EffectsRequest) -> tuple[str, ...]:
    """A note for each grind slope whose square, were it asked for, has a 95 % interval that leaves zero out."""
    straight = [name for name in request.factors if name in GRINDS and name not in request.curves]
    if not straight or chosen.brews[straight[0]].n_unique() < MIN_SETTINGS:
        return ()
    name = straight[0]
    curved = replace(request, curves=(*request.curves, name))
    design = build_design(chosen.brews, curved, chosen.grinders)
    try:
        fit, _ = fit_model(chosen.brews, curved, design)
    except ProblemError:
        return ()  # these brews can carry the line but not the curve, so nothing is said of it
    notes = []
    for k, term in enumerate(design.terms):
        if term.factors == (name, name) and abs(fit.estimate[k]) > stats.t.ppf(0.975, fit.df[k]) * fit.std_error[k]:
            way = "down" if fit.estimate[k] < 0 else "up"
            notes.append(
                f"{label(term).replace('^2', '')} seems to bend {way}, so one slope may mislead: ask for its curve too."
            )
    return tuple(notes)
