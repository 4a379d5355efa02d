"""What a set of brews cannot tell, found before anything is fitted and said in one sentence."""

from __future__ import annotations

import numpy as np
import polars as pl

from analysis.effects.design import Design, Term
from analysis.effects.factors import DIAL, FACTORS, plural
from analysis.effects.fit import Floats
from analysis.effects.request import EffectsRequest
from analysis.physics import plain
from schemas.columns import COLUMNS
from schemas.problem import ProblemError

MIN_SPARE = 3
"""Brews beyond the numbers to estimate. In simulations HC3 with t(n - p) covered 96 to 97 % at 3, 91 to 96 % above."""
RANK_TOLERANCE = 1e-7


def check_variation(brews: pl.DataFrame, request: EffectsRequest) -> None:
    """Refuse a response or factor with a single value, and a curve with fewer than three."""
    for name in (request.response, *request.factors):
        values = brews[name].unique()
        if len(values) == 1:
            raise ProblemError(
                f"{name} does not vary: it is {_show(name, values[0])} in all {plural('brew', brews.height)}, so "
                f"nothing can be learned of it. {_would_help(name, request)}"
            )
    for name in request.curves:
        most = _most_settings(brews, name)
        if most < 3:
            raise ProblemError(
                f"A curve needs at least 3 settings and {name} has {most}; brew a third, or leave the curve out."
            )


def _most_settings(brews: pl.DataFrame, name: str) -> int:
    """Distinct settings; of a dial, the fewest on any one grinder."""
    if name != DIAL:
        return brews[name].n_unique()
    counts = brews.group_by("grinder_id").agg(pl.col(name).n_unique())[name].to_list()
    return int(min(counts))


def _show(name: str, value: object) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    unit = COLUMNS[name].unit
    return f"{plain(value, 2)} {unit}".strip() if isinstance(value, (int, float)) else str(value)


def _would_help(name: str, request: EffectsRequest) -> str:
    if name == request.response:
        return "Check how it was recorded."
    if FACTORS[name].is_yes_no:
        return "Leave it out of the factors until both have been seen."
    return "Brew at a second setting, or leave it out of the factors."


def check_enough(n_brews: int, n_terms: int, *, taken: int = 0, levels: str = "") -> None:
    """Refuse unless at least `MIN_SPARE` brews remain beyond the numbers that the model estimates.

    `taken` counts the numbers that group levels take up beyond the terms, `levels` puts those levels in words.
    """
    needed = n_terms + taken + MIN_SPARE
    if n_brews < needed:
        also = f", besides the levels of {levels}" if taken else ""
        raise ProblemError(
            f"Too few brews: {plural('complete brew', n_brews)} to work out {plural('number', n_terms)} from (each "
            f"effect, and the level they start from){also}; at least {needed} are needed. Brew more, or ask for fewer "
            "factors."
        )


def check_separable(design: Design) -> None:
    """Refuse when some columns are a weighted sum of others; name those that move together."""
    length = np.sqrt(np.sum(design.x**2, axis=0))
    _check_products(design, length)
    _, weights, axes = np.linalg.svd(design.x / length, full_matrices=False)
    if weights[-1] > RANK_TOLERANCE:
        return
    tied = [term for term, part in zip(design.terms, axes[-1], strict=True) if abs(part) > 0.05 and term.factors]
    names = list(dict.fromkeys(label(term) for term in tied))
    if len(names) == 1:
        raise ProblemError(
            f"{names[0]} changes only where the grinder changes, so its effect cannot be told from the difference "
            "between grinders. Use two settings on one grinder, or leave it out."
        )
    raise ProblemError(
        f"{_join(names)} always move together{_correlation(design, tied)}, so their effects cannot be told apart. "
        "Leave one out, or brew where one changes and the other does not."
    )


def _check_products(design: Design, length: Floats) -> None:
    """Refuse a product that is zero in every brew, up to rounding."""
    spread: dict[str, float] = {}
    for term, size in zip(design.terms, length, strict=True):
        if len(term.factors) == 1:
            spread[term.factors[0]] = max(float(size), spread.get(term.factors[0], 0.0))
        if len(term.factors) == 2:
            usual = spread[term.factors[0]] * spread[term.factors[1]] / np.sqrt(design.x.shape[0])
            if size <= RANK_TOLERANCE * usual:
                raise ProblemError(
                    f"{label(term)} cannot be judged: in these brews one of the two stood at its average whenever the "
                    "other did not. Leave that cross out."
                )


def _correlation(design: Design, tied: list[Term]) -> str:
    if len(tied) != 2:
        return ""
    first, second = (design.x[:, design.terms.index(term)] for term in tied)
    return f" (r = {np.corrcoef(first, second)[0, 1]:.3f})"


def label(term: Term) -> str:
    """The term's name, with its grinder or method where it has one."""
    return f"{term.name}{term.place}"


def _join(names: list[str]) -> str:
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"


def check_noise(y: Floats, residual: Floats, response: str) -> None:
    """Refuse a fit that leaves nothing over: there is no spread to judge an effect by."""
    if residual @ residual <= 1e-20 * ((y - y.mean()) @ (y - y.mean())):
        raise ProblemError(
            f"The factors give {response} back exactly, without any scatter, so it looks computed rather than "
            "measured and no uncertainty can be stated. Check where these values come from."
        )


def refuse_pinned(brew_ids: list[str]) -> None:
    """Refuse least squares where single brews decide a term alone (leverage 1), naming them."""
    if not brew_ids:
        return
    shown = ", ".join(brew_ids[:5]) + (f" and {len(brew_ids) - 5} more" if len(brew_ids) > 5 else "")
    one = len(brew_ids) == 1
    raise ProblemError(
        f"{plural('brew', len(brew_ids))} {'decides' if one else 'decide'} an effect alone ({shown}), so nothing tells "
        f"how sure it is. Brew more like {'it' if one else 'them'}, or leave that factor out."
    )
