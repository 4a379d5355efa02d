"""Rows of each group turned into one small block that holds all a mixed model needs to know of them.

Within a group the covariance is s I plus something that lives in the columns of z. Turn the rows (a QR of z, x and
y together) and only the first few carry anything; the others are pure residual variance of zero data. Hence a block
of q + p + 1 rows per group, never an n x n matrix, and a fit whose cost does not grow with the number of brews.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analysis.effects.fit import Floats, Ints


@dataclass(frozen=True)
class Blocks:
    """G groups, blocks of m rows, q random and p fixed columns.

    `z` (G, m, q), `x` (G, m, p), `y` (G, m); `spare` (G,) counts the rows turned away (negative where a short group
    was padded with empty rows, whose residual variance it takes off again). `n_rows` is the number of real rows.
    """

    z: Floats
    x: Floats
    y: Floats
    spare: Floats
    n_rows: int

    @property
    def free(self) -> int:
        """Rows less fixed columns."""
        return int(self.n_rows - self.x.shape[2])


def make_blocks(y: Floats, x: Floats, z: Floats, codes: Ints) -> Blocks:
    """Blocks of the rows that share a code; `y` (n,), `x` (n, p), `z` (n, q), `codes` (n,) integers."""
    order = np.argsort(codes, kind="stable")
    starts = np.flatnonzero(np.diff(codes[order])) + 1
    joined = np.column_stack([z, x, y])[order]
    m, q = joined.shape[1], z.shape[1]
    pieces = np.split(joined, starts)
    turned = np.zeros((len(pieces), m, m))
    for block, rows in zip(turned, pieces, strict=True):
        upper = np.asarray(np.linalg.qr(rows, mode="r"))
        block[: upper.shape[0]] = upper
    spare = np.array([rows.shape[0] - m for rows in pieces], dtype=np.float64)
    return Blocks(turned[:, :, :q], turned[:, :, q:-1], turned[:, :, -1], spare, y.shape[0])
