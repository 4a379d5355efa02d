"""Agreement of two instruments on the same samples: bias, limits for single readings, and whether the gap grows.

Differences are `b` less `a`, in % of strength. Nothing here says that one of the two is right.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import combinations

import numpy as np
import polars as pl
from scipy import stats

from analysis.measurement.agreement_limits import Part, reach_of_limits
from analysis.measurement.deming import LEVEL, ErrorRatio, Line, Prediction, predict
from analysis.measurement.error_ratio import error_ratio
from analysis.measurement.pairing import Pairs, Scatter, pair_up, pooled_readings, usable
from analysis.measurement.proportional import Estimate, Trend, scatter_grows, slopes_of
from analysis.words import count
from schemas.problem import ProblemError

FEWEST_PAIRS = 3


@dataclass(frozen=True, slots=True)
class Agreement:
    """How `b` reads against `a` on the same samples; all strengths and differences in %, differences b less a.

    `bias` is the mean difference; `lower` and `upper` hold 95 % of differences of two single readings, whose sd is
    `sd_single`. `line` is b on a and `trend` the difference on the mean, both None where `no_slope` says why.
    `stated_u` is the standard uncertainty of the gap from what is stated of the two instruments. `added` is what
    `predict_b` adds for single readings; `pairs` carries the points of a chart.
    """

    a: str
    b: str
    n_brews: int
    n_samples: int
    n_readings_a: int
    n_readings_b: int
    range_low: float
    range_high: float
    bias: Estimate
    lower: Estimate
    upper: Estimate
    sd_single: float
    trend: Trend | None
    line: Line | None
    no_slope: str
    errors: ErrorRatio
    stated_u: float | None
    added: tuple[tuple[float, int], ...]
    notes: tuple[str, ...]
    pairs: Pairs


@dataclass(frozen=True, slots=True)
class NotCompared:
    """Two instruments that cannot be compared, and why."""

    a: str
    b: str
    reason: str


@dataclass(frozen=True, slots=True)
class _Stated:
    """What is stated of an instrument, in %; None where nothing is."""

    resolution: float | None
    standard_uncertainty: float | None


@dataclass(frozen=True, slots=True)
class _Limits:
    """The part of an `Agreement` that Bland and Altman describe."""

    bias: Estimate
    lower: Estimate
    upper: Estimate
    sd_single: float


def compare_instruments(readings: pl.DataFrame, instruments: pl.DataFrame, a: str, b: str) -> Agreement:
    """Compare `b` with `a`, the one relied on; refused with fewer than 3 brews read on both.

    `readings`: brew_id, instrument_id, sample_no, strength_pct, is_void. `instruments`: instrument_id, resolution,
    standard_uncertainty, in % of strength; rows may be missing.
    """
    pairs = _paired(readings, a, b)
    of_a, of_b = _stated(instruments, a), _stated(instruments, b)
    step_a, step_b = of_a.resolution or 0.0, of_b.resolution or 0.0
    floor = (step_a**2 + step_b**2) / 12
    means, differences = (pairs.x_pct + pairs.y_pct) / 2, pairs.y_pct - pairs.x_pct
    seen = float(differences.var(ddof=1))
    found = _bias_and_limits(pairs, float(differences.mean()), _variance(pairs, seen, floor))
    errors = error_ratio(
        pairs,
        _readings_of(pairs.readings_a, readings, a),
        _readings_of(pairs.readings_b, readings, b),
        resolution_a=step_a,
        resolution_b=step_b,
    )
    slopes = slopes_of(pairs.x_pct, pairs.y_pct, errors, floor=floor)
    return Agreement(
        a=a,
        b=b,
        n_brews=len(pairs.brew_ids),
        n_samples=pairs.n_samples,
        n_readings_a=pairs.n_readings_a,
        n_readings_b=pairs.n_readings_b,
        range_low=float(means.min()),
        range_high=float(means.max()),
        bias=found.bias,
        lower=found.lower,
        upper=found.upper,
        sd_single=found.sd_single,
        trend=slopes.trend,
        line=slopes.line,
        no_slope=slopes.reason,
        errors=errors,
        stated_u=_stated_u(of_a, of_b),
        added=_added(pairs, slopes.line),
        notes=_notes(pairs, of_a, of_b, grows=scatter_grows(means, differences), floored=seen < floor),
        pairs=pairs,
    )


def all_pairs(readings: pl.DataFrame, instruments: pl.DataFrame) -> tuple[Agreement | NotCompared, ...]:
    """Every two instruments with readings, in order of their names; those that cannot be compared say why."""
    names = usable(readings)["instrument_id"].unique().sort().to_list()
    found: list[Agreement | NotCompared] = []
    for a, b in combinations(names, 2):
        try:
            found.append(compare_instruments(readings, instruments, a, b))
        except ProblemError as problem:
            found.append(NotCompared(a, b, str(problem)))
    return tuple(found)


def predict_b(agreement: Agreement, reading_on_a_pct: float) -> Prediction | None:
    """What a single reading on `b` would be where a single reading on `a` is known; None without a line.

    For the other way round compare the two in the other order: the line is the same.
    """
    if agreement.line is None:
        return None
    return predict(agreement.line, reading_on_a_pct, added=agreement.added)


def _paired(readings: pl.DataFrame, a: str, b: str) -> Pairs:
    if a == b:
        raise ProblemError(f"{a} cannot be compared with itself: name two instruments")
    pairs = pair_up(readings, a, b)
    if len(pairs.brew_ids) < FEWEST_PAIRS:
        raise ProblemError(_too_few(pairs))
    return pairs


def _variance(pairs: Pairs, seen: float, floor: float) -> float:
    """Variance of differences of brew means, at least what display steps make."""
    if max(seen, floor) > 0:
        return max(seen, floor)
    raise ProblemError(
        f"{pairs.a} and {pairs.b}: the difference is the same on all {len(pairs.brew_ids)} brews and no resolution is "
        "stated for either; enter `resolution` in the instruments table: equal readings are equal only to a step"
    )


def _bias_and_limits(pairs: Pairs, bias: float, variance: float) -> _Limits:
    n = len(pairs.brew_ids)
    inside = [Part(np.asarray(part.variance), part.df, part.single) for part in pairs.inside]
    reach = reach_of_limits(np.asarray(variance), n, inside)
    half = float(stats.t.ppf(0.5 + LEVEL / 2, n - 1)) * math.sqrt(variance / n)
    to_limit, inner, outer = float(reach.estimate), float(reach.inner), float(reach.outer)
    return _Limits(
        bias=Estimate(bias, bias - half, bias + half),
        lower=Estimate(bias - to_limit, bias - outer, bias - inner),
        upper=Estimate(bias + to_limit, bias + inner, bias + outer),
        sd_single=float(reach.sd_single),
    )


def _stated(instruments: pl.DataFrame, name: str) -> _Stated:
    rows = instruments.filter(pl.col("instrument_id") == name)
    if rows.is_empty():
        return _Stated(None, None)
    return _Stated(rows["resolution"][0], rows["standard_uncertainty"][0])


def _stated_u(of_a: _Stated, of_b: _Stated) -> float | None:
    if of_a.standard_uncertainty is None or of_b.standard_uncertainty is None:
        return None
    return math.hypot(of_a.standard_uncertainty, of_b.standard_uncertainty)


def _readings_of(paired: Scatter, readings: pl.DataFrame, name: str) -> Scatter:
    """Repeats of the paired samples; where there are none, of all samples of the instrument."""
    return paired if paired.df else pooled_readings(readings, name)


def _added(pairs: Pairs, line: Line | None) -> tuple[tuple[float, int], ...]:
    """What single readings scatter about the line beyond means of brews: variances in %^2 of b, and their df."""
    of_a = line.slope**2 if line else 1.0
    parts = ((of_a, pairs.readings_a), (1.0, pairs.readings_b), (1.0, pairs.samples))
    return tuple((scale * part.single * part.variance, part.df) for scale, part in parts)


def _too_few(pairs: Pairs) -> str:
    left = (
        f" {count(pairs.n_left_out, 'reading')} of the two stand on samples that only one of them read;"
        if pairs.n_left_out
        else ""
    )
    return (
        f"{pairs.a} and {pairs.b}: {count(len(pairs.brew_ids), 'brew')} with a sample read on both, at least "
        f"{FEWEST_PAIRS} are needed;{left} read the same sample, with the same sample_no, on both"
    )


def _notes(pairs: Pairs, of_a: _Stated, of_b: _Stated, *, grows: bool, floored: bool) -> tuple[str, ...]:
    """What to keep in mind, in words."""
    silent = [name for name, of in ((pairs.a, of_a), (pairs.b, of_b)) if of.resolution is None]
    notes = [f"no resolution stated for {name}: its display step counts as 0" for name in silent]
    if floored:
        notes.append("differences scatter less than the display steps allow: the steps are used instead")
    if not pairs.readings_a.df or not pairs.readings_b.df:
        bare = [s for s, part in ((pairs.a, pairs.readings_a), (pairs.b, pairs.readings_b)) if not part.df]
        notes.append(f"no repeated readings of a paired sample on {' and '.join(bare)}")
    if grows:
        notes.append(
            "differences scatter more in stronger brews: the limits are too wide for weak brews and too narrow for "
            "strong ones; compare within one method"
        )
    if pairs.n_left_out:
        notes.append(
            f"{count(pairs.n_left_out, 'reading')} left out: no reading of that sample on the other instrument"
        )
    return tuple(notes)
