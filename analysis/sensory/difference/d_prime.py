"""d-prime: how far apart two brews lie in the palate, in standard deviations of one tasting.

Psychometric functions: Ennis (1993) J. Sensory Studies 8:353; Brockhoff & Christensen (2010) Food Qual. Pref. 21:330.
"""

from __future__ import annotations

import math

import numpy as np
from scipy.optimize import brentq
from scipy.special import ndtr

from analysis.sensory.difference.kinds import CHANCE, Kind

MOST = 20.0
"""Beyond this distance every palate is always right, to the last digit of a float."""
NODES, WEIGHTS = np.polynomial.legendre.leggauss(100)
EDGE = 9.0
"""Standard deviations over which the normal density is integrated."""


def share_right(d_prime: float, kind: Kind) -> float:
    """Share right at a distance of `d_prime` >= 0.

    >>> [round(share_right(0.0, kind), 6) for kind in ("triangle", "duo_trio", "paired")]
    [0.333333, 0.5, 0.5]
    """
    if kind == "triangle":
        return _triangle(d_prime)
    near = float(ndtr(d_prime / math.sqrt(2)))
    if kind == "paired":
        return near
    far = float(ndtr(d_prime / math.sqrt(6)))
    return 1 - near - far + 2 * near * far


def _triangle(d_prime: float) -> float:
    """The two like cups differ by sqrt(2) z; the odd one must lie further from their middle than 1.5 times that."""
    z = (NODES + 1) * EDGE / 2
    density = np.exp(-(z**2) / 2) / math.sqrt(2 * math.pi)
    shift = d_prime * math.sqrt(2 / 3)
    found = ndtr(-z * math.sqrt(3) + shift) + ndtr(-z * math.sqrt(3) - shift)
    return float(2 * np.sum(WEIGHTS * density * found) * EDGE / 2)


def d_prime(right: float, kind: Kind) -> float:
    """Distance at which the share `right` is expected: 0 at or under guessing, infinite where all are right.

    >>> d_prime(0.3, "triangle"), d_prime(1.0, "paired")
    (0.0, inf)
    """
    if right <= CHANCE[kind]:
        return 0.0
    if right >= share_right(MOST, kind):
        return math.inf
    return float(brentq(lambda d: share_right(d, kind) - right, 0.0, MOST, xtol=1e-10))
