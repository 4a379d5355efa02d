"""What any regression here gives back, whichever way it was fitted."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

from scipy import stats

from analysis.mixed.arrays import CONFIDENCE, Floats, Ints, NoFit
from analysis.mixed.fit import MixedFit

__all__ = ["CONFIDENCE", "Fit", "FitKind", "Floats", "Ints", "NoFit"]
FitKind = Literal["robust", "classical", "mixed"]


@dataclass(frozen=True)
class Fit:
    """Coefficients of n rows on p columns, in the units of the response per unit of each column.

    `estimate`, `std_error`, `df`: shape (p,); `covariance` (p, p) of the estimates. `fitted`, `residual`,
    `standardised`: shape (n,); with random parts, `fitted` includes them. `leverage`: shape (n,), None for a mixed
    model. `sigma`: residual standard deviation. `group_sd`: standard deviation between groups, None without a group
    intercept. `components`: variance by random part, those above zero; `dropped`: parts whose variance came out as
    zero. `df_of` gives the degrees of freedom of any contrast (p,) of a mixed model.
    """

    kind: FitKind
    estimate: Floats
    std_error: Floats
    df: Floats
    covariance: Floats
    fitted: Floats
    residual: Floats
    standardised: Floats
    sigma: float
    leverage: Floats | None = None
    group_sd: float | None = None
    components: Mapping[str, float] = field(default_factory=dict)
    dropped: tuple[str, ...] = ()
    satterthwaite: MixedFit | None = None

    def half_width(self, k: int) -> float:
        """Half the 95 % interval of coefficient `k`, from t with its own degrees of freedom."""
        return float(stats.t.ppf(0.5 + CONFIDENCE / 2, self.df[k])) * float(self.std_error[k])
