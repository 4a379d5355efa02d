"""Logistic regression with Firth's penalty: finite, less biased odds ratios from few events, separation included.

The log-likelihood gains half the log-determinant of the Fisher information (Firth 1993, Biometrika 80:27; Heinze and
Schemper 2002, Statistics in Medicine 21:2409). Intervals come from the profile of that function, in `profile.py`.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy.special import expit

from analysis.mixed.arrays import Floats, NoFit

MOST_STEPS = 100
MOST_HALVINGS = 40
SCORING_STEPS = 12
"""Steps by Fisher's information; one that has not settled by then goes on by the measured curve."""
CURVE_WIDTH = 1e-5
LONGEST_STEP = 5.0
"""In log odds per standardised column; a Newton step from far away is cut to this."""
STEP_TOLERANCE = 1e-10
RANK_TOLERANCE = 1e-8


@dataclass(frozen=True)
class FirthFit:
    """Log odds ratios of p columns from n rows.

    `estimate` (p,), `covariance` (p, p) (inverse Fisher information at the estimate), `risk` (n,) fitted probabilities,
    `log_likelihood` penalised; `y` (n,) and `x` (n, p) are the rows it was fitted to.
    """

    estimate: Floats
    covariance: Floats
    risk: Floats
    log_likelihood: float
    y: Floats
    x: Floats

    @property
    def std_error(self) -> Floats:
        """Standard errors of the estimates, shape (p,)."""
        return np.sqrt(np.diag(self.covariance))


@dataclass(frozen=True)
class Height:
    """The penalised log-likelihood at one place, its score (p,) and the Fisher information (p, p)."""

    value: float
    score: Floats
    information: Floats


@dataclass(frozen=True)
class Place:
    """Coefficients (p,) that a path passes through, and how they move with its free numbers: `turn` (p, f).

    `bend` (p,) is their second derivative by the first free number; None where the path is straight.
    """

    beta: Floats
    turn: Floats
    bend: Floats | None = None


Path = Callable[[Floats], Place | None]
"""From free numbers (f,) to coefficients; None where no coefficients belong to them."""


@dataclass(frozen=True)
class Top:
    """The highest place on a path: its free numbers, coefficients and height."""

    free: Floats
    beta: Floats
    value: float


def height(y: Floats, x: Floats, beta: Floats) -> Height | None:
    """Penalised log-likelihood of `y` (n,) of 0 and 1 on `x` (n, p); None where the information is singular."""
    eta = x @ beta
    risk = expit(eta)
    weight = risk * expit(-eta)
    information = (x.T * weight) @ x
    try:
        root = np.linalg.cholesky(information)
    except np.linalg.LinAlgError:
        return None
    half = np.linalg.solve(root, x.T)
    leverage = weight * np.einsum("ij,ij->j", half, half)
    value = y @ eta - np.logaddexp(0.0, eta).sum() + np.log(np.diag(root)).sum()
    return Height(float(value), x.T @ (y - risk + leverage * (0.5 - risk)), information)


def climb(y: Floats, x: Floats, path: Path, start: Floats) -> Top | NoFit:
    """Fisher scoring with halved steps along a path of coefficients; `x` should be the unit of a `Basis`."""
    place = path(start)
    here = None if place is None else height(y, x, place.beta)
    if place is None or here is None:
        return NoFit("the search for the likeliest odds had no place to start from")
    free = start
    if free.size == 0:
        return Top(free, place.beta, here.value)
    for taken in range(MOST_STEPS):
        curve = _measured_curve(y, x, path, free) if taken >= SCORING_STEPS else None
        step = _step(place, here, curve)
        if step is None:
            return NoFit("the likeliest odds could not be told: some columns repeat each other")
        moved = _uphill(y, x, path, free, step, here.value)
        if moved is None:
            break
        free, place, here = moved
        if np.max(np.abs(step)) <= STEP_TOLERANCE * (1 + np.max(np.abs(free))):
            return Top(free, place.beta, here.value)
    return NoFit("the search for the likeliest odds did not settle")


def _step(place: Place, here: Height, measured: Floats | None) -> Floats | None:
    """One step uphill by the measured curve of the path, else by Fisher's information along it."""
    slope, curve = place.turn.T @ here.score, place.turn.T @ here.information @ place.turn
    if place.bend is not None:
        # A bent path curves the likelihood by itself; where that would point downhill, the straight part must do.
        bent = curve.copy()
        bent[0, 0] -= here.score @ place.bend
        curve = bent if np.linalg.eigvalsh(bent)[0] > 0 else curve
    try:
        step: Floats = np.asarray(np.linalg.solve(curve if measured is None else measured, slope), dtype=np.float64)
    except np.linalg.LinAlgError:
        return None
    longest = float(np.max(np.abs(step)))
    return step * min(1.0, LONGEST_STEP / longest) if longest > 0 else step


def _measured_curve(y: Floats, x: Floats, path: Path, free: Floats) -> Floats | None:
    """Minus the second derivative (f, f) of the height by differences of its slope; None where it is not a hilltop's.

    Fisher's information leaves the penalty's own curve out; with few rows that can be most of it.
    """
    slopes = []
    for width in (CURVE_WIDTH, -CURVE_WIDTH):
        for shift in np.eye(free.size) * width:
            place = path(free + shift)
            there = None if place is None else height(y, x, place.beta)
            if place is None or there is None:
                return None
            slopes.append(place.turn.T @ there.score)
    after, before = np.array(slopes[: free.size]), np.array(slopes[free.size :])
    curve = (before - after) / (2 * CURVE_WIDTH)
    curve = (curve + curve.T) / 2
    return curve if np.linalg.eigvalsh(curve)[0] > 0 else None


def _uphill(
    y: Floats, x: Floats, path: Path, free: Floats, step: Floats, value: float
) -> tuple[Floats, Place, Height] | None:
    """The first of the step, its half, its quarter ... that does not lose height beyond rounding."""
    slack = 1e-12 * (1 + abs(value))
    for halving in range(MOST_HALVINGS):
        tried = free + step / 2**halving
        place = path(tried)
        there = None if place is None else height(y, x, place.beta)
        if place is not None and there is not None and there.value >= value - slack:
            return tried, place, there
    return None


def anywhere(p: int) -> Path:
    """The path that passes through all coefficients: its free numbers are the coefficients."""
    turn = np.eye(p)
    return lambda free: Place(free, turn)


@dataclass(frozen=True)
class Basis:
    """A design turned to columns at right angles and of unit size: `unit` (n, p) = x @ `back` (p, p).

    The search is done there, so that neither units nor means far from zero cost digits. Coefficients are back @ those
    found there; `shift` is what the penalised log-likelihood gains on the way there.
    """

    unit: Floats
    back: Floats
    shift: float


def basis_of(x: Floats) -> Basis:
    """The basis of a design of full rank; the penalised estimate does not depend on it (Firth 1993, section 3.2)."""
    root = math.sqrt(x.shape[0])
    q, r = np.linalg.qr(x)
    back = np.linalg.inv(r) * root
    return Basis(q * root, back, float(np.linalg.slogdet(back)[1]))


def has_full_rank(x: Floats) -> bool:
    """True when no column of `x` (n, p) is empty or a weighted sum of others."""
    sizes = np.sqrt(np.mean(x * x, axis=0))
    if x.shape[0] < x.shape[1] or np.any(sizes == 0):
        return False
    weights = np.linalg.svd(x / sizes, compute_uv=False)
    return bool(weights[-1] > RANK_TOLERANCE * weights[0])


def fit_firth(y: Floats, x: Floats) -> FirthFit | NoFit:
    """Firth's logistic regression of `y` (n,) of 0 and 1 on `x` (n, p), as given: no intercept is added.

    NoFit says why there is none: columns that repeat each other, or a search that did not settle.
    """
    if not has_full_rank(x):
        return NoFit("some columns repeat each other")
    basis = basis_of(x)
    top = climb(y, basis.unit, anywhere(x.shape[1]), np.zeros(x.shape[1]))
    if isinstance(top, NoFit):
        return top
    at = height(y, basis.unit, top.beta)
    if at is None:
        return NoFit("the likeliest odds have no spread that can be worked out")
    return FirthFit(
        estimate=basis.back @ top.beta,
        covariance=basis.back @ np.linalg.inv(at.information) @ basis.back.T,
        risk=np.asarray(expit(basis.unit @ top.beta), dtype=np.float64),
        log_likelihood=top.value - basis.shift,
        y=y,
        x=x,
    )
