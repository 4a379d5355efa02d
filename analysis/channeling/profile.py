"""Profile intervals of odds and of differences of risk: the values that the penalised likelihood still allows.

The interval holds every value whose best penalised log-likelihood lies at most chi-square(0.95, 1) / 2 below the top
(Heinze and Schemper 2002, Statistics in Medicine 21:2409, section 3), with the penalty of the whole model throughout.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy import optimize, stats
from scipy.special import expit, logit

from analysis.channeling.firth import FirthFit, Path, Place, Top, basis_of, climb
from analysis.mixed.arrays import Floats, NoFit

CONFIDENCE = 0.95
CUT = float(stats.chi2.ppf(CONFIDENCE, 1))
MOST_WIDENINGS = 60
EDGE = 1e-200
LEAST_SHARE = 1e-9


@dataclass(frozen=True)
class ProfileInterval:
    """A quantity with the ends of its 95 % interval, all in its own unit."""

    estimate: float
    low: float
    high: float


@dataclass(frozen=True)
class LikelihoodRatio:
    """Twice the penalised log-likelihood lost by holding a quantity at zero, and its chi-square(1) p value."""

    statistic: float
    p_value: float


@dataclass(frozen=True)
class LogOdds:
    """A weighted sum of coefficients; `weights` (p,)."""

    weights: Floats

    @property
    def ends(self) -> tuple[float, float]:
        """No end either way."""
        return (-math.inf, math.inf)

    def of(self, beta: Floats) -> float:
        """The sum itself."""
        return float(self.weights @ beta)

    def spread(self, beta: Floats, covariance: Floats) -> float:
        """Its standard error."""
        return math.sqrt(float(self.weights @ covariance @ self.weights))

    def path(self, value: float) -> Path:
        """All coefficients whose weighted sum is `value`."""
        origin = self.weights * (value / (self.weights @ self.weights))
        across = _across(self.weights[:, None])
        return lambda free: Place(origin + across @ free, across)

    def starts(self, value: float, beta: Floats) -> list[Floats]:
        """The free numbers nearest to `beta`."""
        return [np.asarray(_across(self.weights[:, None]).T @ beta)]

    def turned(self, back: Floats) -> LogOdds:
        """The same sum of the coefficients of a `Basis`."""
        return LogOdds(back.T @ self.weights)


@dataclass(frozen=True)
class RiskDifference:
    """Risk at log odds `to @ beta` less risk at log odds `at @ beta`, as fractions; both (p,)."""

    at: Floats
    to: Floats

    @property
    def ends(self) -> tuple[float, float]:
        """A difference of two probabilities."""
        return (-1.0, 1.0)

    def of(self, beta: Floats) -> float:
        """The difference itself."""
        return float(expit(self.to @ beta) - expit(self.at @ beta))

    def spread(self, beta: Floats, covariance: Floats) -> float:
        """Its standard error to first order."""
        low, high = float(expit(self.at @ beta)), float(expit(self.to @ beta))
        slope = self.to * high * (1 - high) - self.at * low * (1 - low)
        return math.sqrt(float(slope @ covariance @ slope))

    def path(self, value: float) -> Path:
        """All coefficients whose two risks differ by `value`.

        Free are where the first risk stands in the room that the value leaves it, as log odds, and all coefficients
        that move neither risk.
        """
        pair = np.column_stack([self.at, self.to])
        back = pair @ np.linalg.inv(pair.T @ pair)
        across = _across(pair)
        gap, room, order = abs(value), 1 - abs(value), (0, 1) if value >= 0 else (1, 0)

        def place(free: Floats) -> Place | None:
            share, rest = float(expit(free[0])), float(expit(-free[0]))
            # The smaller risk and the larger, and what each leaves to 1: written so that none loses its digits near 0.
            risks = np.array([room * share, gap + room * share])[list(order)]
            rests = np.array([gap + room * rest, room * rest])[list(order)]
            weights = risks * rests
            if np.min(weights) < EDGE:
                return None
            slope = room * share * rest
            turn = slope / weights
            bend = slope * (rest - share) / weights - (rests - risks) * turn**2
            beta = back @ (np.log(risks) - np.log(rests)) + across @ free[1:]
            return Place(beta, np.column_stack([back @ turn, across]), back @ bend)

        return place

    def starts(self, value: float, beta: Floats) -> list[Floats]:
        """Free numbers that keep one risk of `beta`, the first or the second, where the value leaves room for it."""
        room = 1 - abs(value)
        low, high = (self.at, self.to) if value >= 0 else (self.to, self.at)
        shares = (float(expit(low @ beta)) / room, 1 - float(expit(-high @ beta)) / room)
        rest = _across(np.column_stack([self.at, self.to])).T @ beta
        return [
            np.concatenate([[float(logit(np.clip(share, LEAST_SHARE, 1 - LEAST_SHARE)))], rest]) for share in shares
        ]

    def turned(self, back: Floats) -> RiskDifference:
        """The same difference from the coefficients of a `Basis`."""
        return RiskDifference(back.T @ self.at, back.T @ self.to)


Quantity = LogOdds | RiskDifference
"""A number that coefficients (p,) give, with the path of coefficients that share a value of it."""


def _across(columns: Floats) -> Floats:
    """An orthonormal basis (p, p - k) of all that is at right angles to `columns` (p, k)."""
    q, _ = np.linalg.qr(columns, mode="complete")
    return np.asarray(q[:, columns.shape[1] :], dtype=np.float64)


def profile_interval(fit: FirthFit, quantity: Quantity) -> ProfileInterval | NoFit:
    """The 95 % profile interval of a quantity; NoFit where an end could not be found."""
    centre, step = quantity.of(fit.estimate), quantity.spread(fit.estimate, fit.covariance)
    lost = _loss(fit, quantity)

    def above(value: float) -> float:
        """The loss is nearly a parabola, so its root is nearly a line, and the end is met in half as many fits."""
        return math.sqrt(max(lost(value), 0.0)) - math.sqrt(CUT)

    found = []
    for sign in (-1.0, 1.0):
        try:
            far = _widen(lost, centre, sign * step, quantity.ends)
            found.append(float(optimize.brentq(above, centre, far, xtol=1e-7)))
        except _UnsettledError as unsettled:
            return NoFit(f"an end of its interval was not found: {unsettled}")
    return ProfileInterval(centre, found[0], found[1])


def likelihood_ratio(fit: FirthFit, quantity: Quantity) -> LikelihoodRatio | NoFit:
    """The penalised likelihood-ratio test that a quantity is zero."""
    try:
        statistic = max(_loss(fit, quantity)(0.0), 0.0)
    except _UnsettledError as unsettled:
        return NoFit(str(unsettled))
    return LikelihoodRatio(statistic, float(stats.chi2.sf(statistic, 1)))


class _UnsettledError(Exception):
    """A point of the profile could not be worked out."""


def _loss(fit: FirthFit, quantity: Quantity) -> Callable[[float], float]:
    """Twice the penalised log-likelihood lost by holding the quantity at a value.

    The search starts from the estimate and from where the last value ended, as separated rows can have two tops; a
    value asked for twice gets the same answer.
    """
    basis = basis_of(fit.x)
    turned, top = quantity.turned(basis.back), fit.log_likelihood + basis.shift
    estimate: Floats = np.linalg.inv(basis.back) @ fit.estimate
    last = estimate
    known = {quantity.of(fit.estimate): 0.0}

    def lost(value: float) -> float:
        nonlocal last
        if value not in known:
            path = turned.path(value)
            starts = [start for beta in (last, estimate) for start in turned.starts(value, beta)]
            tried = [climb(fit.y, basis.unit, path, start) for start in starts]
            held = [end for end in tried if isinstance(end, Top)]
            if not held:
                raise _UnsettledError("; ".join({end.reason for end in tried if isinstance(end, NoFit)}))
            highest = max(held, key=lambda end: end.value)
            last, known[value] = highest.beta, 2 * (top - highest.value)
        return known[value]

    return lost


def _widen(lost: Callable[[float], float], centre: float, step: float, ends: tuple[float, float]) -> float:
    """A value outside the interval on the side of `step`; a wall is neared by halves and never touched."""
    wall = ends[1] if step > 0 else ends[0]
    here, reach = centre, 2 * step
    for _ in range(MOST_WIDENINGS):
        here = here + reach if abs(reach) < abs(wall - here) / 2 else (here + wall) / 2
        if lost(here) > CUT:
            return here
        reach *= 1.5
    raise _UnsettledError("no value was too far out")
