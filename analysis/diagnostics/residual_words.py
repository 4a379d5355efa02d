"""One residual check with its number and its words, before p-values are shared."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Check:
    """A check: `said` and `do` hold where the shared p-value is small; `detail` (df and so on) is for the table."""

    name: str
    statistic: float
    p_value: float
    said: str
    do: str
    brew_ids: tuple[str, ...]
    detail: str
