"""What no regression on these columns can answer, said before any arithmetic."""

from __future__ import annotations

import numpy as np

from analysis.mixed.arrays import Floats, NoFit

NOTHING_LEFT = "nothing is left to judge an effect by"


def check_columns(y: Floats, x: Floats) -> NoFit | None:
    """Why `y` (n,) cannot be put on the columns of `x` (n, p); None where it can."""
    n, p = x.shape
    if n <= p:
        return NoFit(f"there are {n} brews for {p} terms, so {NOTHING_LEFT}")
    if not (np.isfinite(y).all() and np.isfinite(x).all()):
        return NoFit("a number is missing or infinite")
    width = np.sqrt(np.mean(x * x, axis=0))
    if np.any(width == 0) or np.linalg.matrix_rank(x / width) < p:
        return NoFit("the factors cannot be told apart: one is made up of the others")
    return None
