"""The data of one fit, in units that cost no digits: each column and the response brought to about one."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from analysis.mixed.arrays import Floats, Ints, NoFit
from analysis.mixed.checks import NOTHING_LEFT, check_columns
from analysis.mixed.likelihood import overlap
from analysis.mixed.rotation import Rotated, rotate
from analysis.mixed.whitening import Whitening

EXACT = 1e-26
"""Squared residual over squared response that is rounding only."""
ALIKE = 1e-9
"""Smallest eigenvalue of the parts' correlations under which two of them say the same."""


@dataclass(frozen=True)
class RandomPart:
    """One variance component: V gains variance * Z Z', where Z[i, codes[i]] = slope[i].

    `name` is for people: "coffee", "session", "grind_steps_finer by coffee". `codes` (n,): level of each row,
    0..k-1. `slope` (n,): ones for an intercept, the centred factor for a slope that differs by level.
    """

    name: str
    codes: Ints
    slope: Floats

    def columns(self) -> Floats:
        """Z, (n, k)."""
        z = np.zeros((self.codes.size, int(self.codes.max()) + 1))
        z[np.arange(self.codes.size), self.codes] = self.slope
        return z


@dataclass(frozen=True)
class Scaled:
    """`y` / `height`, `x` / `width` (p,) and random columns `z` (n, q) / `depth` (K - 1,), perhaps whitened.

    `inverse` (p, n) = x+, `basis` (n, p) orthonormal, `least` (p,) the least squares estimate, all scaled.
    `lift`: what the units add to the criterion.
    """

    rotated: Rotated
    z: Floats
    basis: Floats
    inverse: Floats
    least: Floats
    height: float
    width: Floats
    depth: Floats
    lift: float


def scale(
    y: Floats, x: Floats, parts: Sequence[RandomPart], *, whitening: Whitening | None = None, reml: bool = True
) -> Scaled | NoFit:
    """Check, whiten and scale `y` (n,), `x` (n, p) and `parts`; what cannot be fitted is said in words."""
    n, p = x.shape
    if len({part.name for part in parts}) < len(parts):
        raise ValueError("two variance components have the same name")
    refusal = check_columns(y, x)
    if refusal is not None:
        return refusal
    if not all(np.isfinite(part.slope).all() for part in parts):
        return NoFit("a number is missing or infinite")
    size = [part.columns() for part in parts]
    depth = np.array([np.sqrt(np.mean(part.slope**2)) for part in parts])
    if np.any(depth == 0):
        return NoFit(f"{parts[int(np.argmin(depth))].name} is zero in every brew")
    z = np.hstack([np.zeros((n, 0)), *(columns / unit for columns, unit in zip(size, depth, strict=True))])
    part_of = np.repeat(np.eye(len(parts)), [columns.shape[1] for columns in size], axis=1)
    log_det = 0.0
    if whitening is not None:
        y, x, z, log_det = whitening.apply(y), whitening.apply(x), whitening.apply(z), whitening.log_det()
    width = np.sqrt(np.mean(x * x, axis=0))
    basis, corner = np.linalg.qr(x / width)
    left = y - basis @ (basis.T @ y)
    if left @ left <= EXACT * (y @ y):
        return NoFit(f"the fixed terms meet every brew exactly, so {NOTHING_LEFT}")
    height = float(np.sqrt(left @ left / (n - p)))
    log_det_x = float(2 * np.log(np.abs(corner.diagonal())).sum())
    rotated = rotate(y / height, basis, z, part_of, log_det_x=log_det_x, reml=reml)
    refusal = _refusal(rotated, [part.name for part in parts])
    if refusal is not None:
        return refusal
    inverse = np.linalg.solve(corner, basis.T)
    units = 2 * rotated.free * np.log(height) + (2 * np.log(width).sum() if reml else 0.0)
    return Scaled(rotated, z, basis, inverse, inverse @ (y / height), height, width, depth, float(units + log_det))


def _refusal(rotated: Rotated, names: Sequence[str]) -> NoFit | None:
    """Parts that no data of this layout could tell apart, or rows that repeat each other exactly."""
    kernels = overlap(rotated)
    own = np.sqrt(kernels.diagonal())
    taken = own < 1e-9 * own.max()
    if taken[1:].any():
        name = names[int(np.argmax(taken[1:]))]
        return NoFit(f"the fixed terms already hold every level of {name}, so its spread cannot be seen")
    weights, axes = np.linalg.eigh(kernels / np.outer(own, own))
    if weights[0] < ALIKE:
        said = ["what is left from brew to brew", *names]
        alike = [name for name, share in zip(said, np.abs(axes[:, 0]), strict=True) if share > 0.1]
        return NoFit(f"{_and(alike)} change together, so their spreads cannot be told apart")
    quadratic = rotated.quadratic
    if quadratic.spare and rotated.rest <= EXACT * (quadratic.spare + quadratic.columns.shape[1]):
        return NoFit(f"the brews of a group repeat each other exactly, so {NOTHING_LEFT}")
    return None


def _and(names: Sequence[str]) -> str:
    return f"{', '.join(names[:-1])} and {names[-1]}"
