"""The arrays every regression here works on, and what stands where a fit cannot be shown."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]
CONFIDENCE = 0.95


@dataclass(frozen=True)
class NoFit:
    """Why no fit can be shown, as the end of a sentence."""

    reason: str
