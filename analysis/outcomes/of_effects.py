"""The measuring errors of factors, brought to the slopes of a fitted effects model."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import polars as pl

from analysis.effects.design import Design, Term
from analysis.effects.factors import FACTORS
from analysis.mixed.arrays import Floats, Ints
from analysis.outcomes.noise import factor_noise
from analysis.outcomes.noise_bias import NoiseBias, noise_biases
from schemas.lab import LabSettings


@dataclass(frozen=True)
class Measuring:
    """What a lab declares of its measuring: `instruments` (stored rows), and default uncertainties in `settings`."""

    instruments: pl.DataFrame
    settings: LabSettings


def slope_biases(
    brews: pl.DataFrame, response: str, design: Design, estimates: Floats, codes: Ints, *, measuring: Measuring
) -> dict[str, NoiseBias]:
    """Expected bias of every linear slope that holds for all brews, by factor; none where nothing is declared.

    `estimates` (p,) per unit of each design column; `codes` (n,) the group of each brew. Slopes that differ by grinder
    and yes/no factors are held beside them as exact.
    """
    linear = [k for k, term in enumerate(design.terms) if _is_measured(term)]
    if not linear:
        return {}
    names = tuple(design.terms[k].name for k in linear)
    noise = factor_noise(brews, response, names, instruments=measuring.instruments, settings=measuring.settings)
    if not noise.within.any() and not noise.with_response.any():
        return {}
    levels = np.eye(int(codes.max()) + 1)[codes]
    others = np.column_stack([levels, np.delete(design.x, linear, axis=1)])
    columns = design.x[:, linear]
    inside = columns - others @ np.linalg.lstsq(others, columns, rcond=None)[0]
    free = brews.height - int(np.linalg.matrix_rank(others))
    if free < 1 or np.linalg.matrix_rank(inside) < len(linear):
        return {}
    found = noise_biases(list(estimates[linear]), inside.T @ inside, noise=noise, n_free=free)
    touched = np.diag(noise.within) > 0
    return {bias.factor: bias for bias, own in zip(found, touched, strict=True) if own}


def _is_measured(term: Term) -> bool:
    return len(term.factors) == 1 and not term.place and not FACTORS[term.factors[0]].is_yes_no
