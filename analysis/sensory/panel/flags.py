"""Who stands apart, at a stated rate of false alarms: a panel of clean assessors is flagged at most 1 time in 20.

Two questions are put to an assessor's slope on the others, over the attributes in which the others find the cups
different: is it below zero (the scale upside down), and is it, at most, half of what is usual, while the assessor's own
scores tell no products apart and those of most others do. Clean assessors lie far from either. Three are about
standing apart: does its level, its scatter or its range lie farther from the others' than they lie from each other,
by the t of an observation left out of its own reference (externally studentised, J - 2 degrees of freedom; Cook and
Weisberg 1982, section 2.2.2), each at its share of 3.5 %, divided by the J assessors (Bonferroni).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from scipy import stats

from analysis.multiple import holm
from analysis.sensory.panel.agreement import Levelled, PooledSlope, cups_differ, levelled, pooled_slope
from analysis.sensory.panel.discrimination import between_cups, discrimination
from analysis.sensory.panel.repeatability import repeatability
from analysis.sensory.panel.tidy import Scores

FlagKind = Literal["reversed", "no_discrimination", "noisy", "compressed", "shifted"]
STAND_APART: dict[FlagKind, float] = {"noisy": 0.0115, "compressed": 0.01, "shifted": 0.0135}
"""Share of clean panels in which each of these flags may go up on anybody."""
UPSIDE_DOWN = 0.01
"""Chance, at most, that somebody who follows nothing is called upside down."""
NOTHING = 0.03
"""Chance, at most, that somebody who follows half as well as usual is held to follow nothing."""
FEWEST_TO_STAND_APART = 5
FEWEST_TO_FOLLOW = 3
CUPS_DIFFER = 0.01
HALF = 0.5
TELLS = 0.05
"""Own evidence of differences that clears somebody of telling nothing apart."""


@dataclass(frozen=True, slots=True)
class Flag:
    """`value` is the slope (reversed, no_discrimination), the ratio to the others' (noisy, compressed) or the shift."""

    kind: FlagKind
    value: float
    n_attributes: int


@dataclass(frozen=True)
class Flags:
    """Flags and pooled slopes by assessor code; no slope where the others found no difference to follow."""

    of: Mapping[int, tuple[Flag, ...]]
    slopes: Mapping[int, PooledSlope]
    n_assessors: int


def raise_flags(attributes: Sequence[Scores]) -> Flags:
    """Flags over attributes of intensity or quality; constant scores are left to their own finding."""
    varied = [without_constant(one) for one in attributes]
    varied = [one for one in varied if np.unique(one.assessor).size > 1]
    panels = [levelled(one) for one in varied]
    codes = sorted({int(code) for one in varied for code in np.unique(one.assessor)})
    raised: dict[int, list[Flag]] = {code: [] for code in codes}
    slopes = _slopes(panels, codes)
    if len(codes) >= FEWEST_TO_FOLLOW:
        _follows(raised, slopes, varied)
    if len(codes) >= FEWEST_TO_STAND_APART:
        _stands_apart(raised, varied, panels)
    return Flags({code: tuple(own) for code, own in raised.items()}, slopes, len(codes))


def without_constant(scores: Scores) -> Scores:
    """Without the assessors who gave one score to everything."""
    kept = [code for code in np.unique(scores.assessor) if np.ptp(scores.y[scores.assessor == code]) > 0]
    return scores.take(np.flatnonzero(np.isin(scores.assessor, kept)))


def _slopes(panels: list[Levelled], codes: list[int]) -> dict[int, PooledSlope]:
    """Over the attributes whose cups the others tell apart: elsewhere there is nothing to follow."""
    found = {}
    for code in codes:
        tests = [(panel, cups_differ(panel, without=code)) for panel in panels]
        slope = pooled_slope([panel for panel, test in tests if test and test.p_value < CUPS_DIFFER], code)
        if slope is not None:
            found[code] = slope
    return found


def _follows(raised: dict[int, list[Flag]], slopes: Mapping[int, PooledSlope], varied: list[Scores]) -> None:
    tells = {code: tells_any(varied, code) for code in raised}
    for code, own in slopes.items():
        others = [slope.slope for other, slope in slopes.items() if other != code]
        most = 2 * sum(tells[other] for other in raised if other != code) > len(raised) - 1
        if own.upper(UPSIDE_DOWN) < 0:
            raised[code].append(Flag("reversed", own.slope, own.n_attributes))
        elif others and most and not tells[code] and own.upper(NOTHING) < HALF * float(np.median(others)):
            raised[code].append(Flag("no_discrimination", own.slope, own.n_attributes))


def tells_any(attributes: Sequence[Scores], code: int) -> bool:
    """Whether the assessor alone tells cups apart, in one attribute (Holm) or over all (Fisher 1932).

    Where no cup was scored twice: products. Fisher's sum takes attributes for independent; where they are not it errs
    in the assessor's favour.
    """
    own = [one for one in attributes if np.any(one.assessor == code)]
    tests = [between_cups(one, code) or discrimination(one, code) for one in own]
    p_values = np.array([max(test.p_value, 1e-300) for test in tests if test is not None])
    if not p_values.size:
        return False
    together = float(stats.chi2.sf(-2 * np.log(p_values).sum(), 2 * p_values.size))
    return bool(min(together, holm(p_values).min()) < TELLS)


def _stands_apart(raised: dict[int, list[Flag]], varied: list[Scores], panels: list[Levelled]) -> None:
    j = len(raised)
    level = _mean_by_code([{code: value / p.unit for code, value in p.level.items()} for p in panels if p.unit > 0])
    repeats = [{code: own.sd**2 for code, own in repeatability(one).items()} for one in varied]
    scatter = _mean_by_code([_cube_roots(one) for one in repeats])
    width = _mean_by_code([_cube_roots(_widths(one)) for one in varied])
    for kind, values, side in (("shifted", level, 0), ("noisy", scatter, 1), ("compressed", width, -1)):
        for code, (value, p_value, n) in apart(values, side=side).items():
            flat = kind == "compressed" and any(flag.kind == "no_discrimination" for flag in raised[code])
            if p_value < STAND_APART[kind] / j and not flat:  # type: ignore[index]
                size = value if kind == "shifted" else _ratio(1 + values[code][0], value)
                raised[code].append(Flag(kind, size, n))  # type: ignore[arg-type]


def apart(values: Mapping[int, tuple[float, int]], *, side: int) -> dict[int, tuple[float, float, int]]:
    """By code: distance from the mean of the others, the p of its t, and the number of attributes; `side` 0 is both."""
    if len(values) < FEWEST_TO_STAND_APART:
        return {}
    all_of_them = np.array([value for value, _ in values.values()])
    found = {}
    for place, (code, (value, n)) in enumerate(values.items()):
        others = np.delete(all_of_them, place)
        spread = float(others.std(ddof=1)) * np.sqrt(1 + 1 / others.size)
        distance = value - float(others.mean())
        if spread <= 0:
            continue
        t = distance / spread
        p = 2 * stats.t.sf(abs(t), others.size - 1) if side == 0 else stats.t.sf(side * t, others.size - 1)
        found[code] = (distance, float(p), n)
    return found


def _ratio(own: float, distance: float) -> float:
    """Standard deviation beside the others', from a cube root of variances and its distance from theirs."""
    return float((own / (own - distance)) ** 1.5)


def _cube_roots(variances: Mapping[int, float]) -> dict[int, float]:
    """Cube roots over their mean: of a variance it is nearly normal (Wilson and Hilferty 1931); its log is skew."""
    roots = {code: variance ** (1 / 3) for code, variance in variances.items()}
    middle = float(np.mean(list(roots.values()))) if roots else 0.0
    return {code: root / middle for code, root in roots.items()} if middle > 0 else {}


def _widths(scores: Scores) -> dict[int, float]:
    codes = [int(code) for code in np.unique(scores.assessor)]
    return {code: float(scores.y[scores.assessor == code].var(ddof=1)) for code in codes}


def _mean_by_code(parts: Sequence[Mapping[int, float]]) -> dict[int, tuple[float, int]]:
    """Mean over the attributes of each assessor's distance from the panel's mean in it, and how many attributes."""
    own: dict[int, list[float]] = {}
    for part in filter(None, parts):
        middle = float(np.mean(list(part.values())))
        for code, value in part.items():
            own.setdefault(code, []).append(value - middle)
    return {code: (float(np.mean(values)), len(values)) for code, values in sorted(own.items())}
