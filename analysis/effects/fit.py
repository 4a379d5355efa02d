"""What any regression here gives back, whichever way it was fitted."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from scipy import stats

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
FitKind = Literal["robust", "classical", "mixed"]
CONFIDENCE = 0.95


@dataclass(frozen=True)
class Fit:
    """Coefficients of n rows on p columns, in the units of the response per unit of each column.

    `estimate`, `std_error`, `df`: shape (p,). `fitted`, `residual`, `standardised`: shape (n,); with a group
    intercept, `fitted` includes it. `leverage`: shape (n,), None for a mixed model. `sigma`: residual standard
    deviation. `group_sd`: standard deviation between groups, None without a group intercept.
    """

    kind: FitKind
    estimate: Floats
    std_error: Floats
    df: Floats
    fitted: Floats
    residual: Floats
    standardised: Floats
    sigma: float
    leverage: Floats | None = None
    group_sd: float | None = None

    def half_width(self, k: int) -> float:
        """Half the 95 % interval of coefficient `k`, from t with its own degrees of freedom."""
        return float(stats.t.ppf(0.5 + CONFIDENCE / 2, self.df[k])) * float(self.std_error[k])


@dataclass(frozen=True)
class NoFit:
    """Why no fit can be shown, as the end of a sentence."""

    reason: str
