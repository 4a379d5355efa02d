"""Rows and random columns in the few directions the random columns span: everything REML needs, never n x n.

With the fixed columns taken out (S = I - x x+), V = s^2 I + Z T Z' acts on the r directions that S Z spans as
s^2 I + F'T F, and on the n - p - r others as s^2 alone. F (q, r) are the random columns in those directions. That is
Woodbury's identity with nothing subtracted, so a variance a million times the residual costs no digits.
Under ML the determinant is that of V itself, whose directions are those of Z before the fixed columns go.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analysis.mixed.arrays import Floats

NO_LENGTH = 1e-12
"""A direction with less than this share of the longest one's squared length is rounding, not a direction."""


@dataclass(frozen=True)
class Directions:
    """Random columns (q, r) in the r directions they span; `spare` directions are outside."""

    columns: Floats
    spare: int


@dataclass(frozen=True)
class Rotated:
    """What the likelihood of one data set is made of, for q random levels in K - 1 parts.

    `part_of` (K - 1, q): 1 where the level belongs to the part. `quadratic`: directions left by the fixed columns,
    `y` (r,) the response in them, `rest` its squared length outside. `determinant`: the directions whose determinant
    counts: the same ones under REML. `axes` (n, r): the directions. `constant`: of -2 log-likelihood.
    """

    part_of: Floats
    quadratic: Directions
    determinant: Directions
    axes: Floats
    y: Floats
    rest: float
    constant: float

    @property
    def free(self) -> int:
        """Directions whose determinant counts: n - p under REML, n under ML."""
        return int(self.determinant.columns.shape[1]) + self.determinant.spare


def _span(z: Floats) -> tuple[Floats, Floats]:
    """Orthonormal axes (n, r) of the columns of `z` (n, q), and the columns in them (q, r)."""
    weights, turn = np.linalg.eigh(z.T @ z)
    kept = weights > NO_LENGTH * max(weights.max(initial=0.0), 1.0)
    length = np.sqrt(weights[kept])
    return z @ (turn[:, kept] / length), turn[:, kept] * length


def rotate(y: Floats, basis: Floats, z: Floats, part_of: Floats, *, log_det_x: float, reml: bool) -> Rotated:
    """`y` (n,) and `z` (n, q), without `basis` (n, p): orthonormal fixed columns of log |x'x| `log_det_x`."""
    n, p = basis.shape
    left = z - basis @ (basis.T @ z)
    rest_of_y = y - basis @ (basis.T @ y)
    axes, columns = _span(left)
    along = axes.T @ rest_of_y
    outside = rest_of_y - axes @ along
    inside = Directions(columns, n - p - columns.shape[1])
    if reml:
        determinant, constant = inside, (n - p) * np.log(2 * np.pi) + log_det_x
    else:
        whole = _span(z)[1]
        determinant, constant = Directions(whole, n - whole.shape[1]), n * np.log(2 * np.pi)
    return Rotated(part_of, inside, determinant, axes, along, float(outside @ outside), float(constant))
