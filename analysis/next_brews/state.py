"""What is known of one method when it is asked what to brew next."""

from __future__ import annotations

from dataclasses import dataclass

from analysis.diagnostics.report import Diagnosis
from analysis.effects.result import EffectsResult
from analysis.planning.answers import Answer
from analysis.planning.augment import Augmented
from analysis.planning.factors import PlanFactor
from analysis.prediction.result import Prediction

WORTH_KNOWING = 0.5
"""Points of yield between two settings that a trial should show, where no study declares what matters."""


@dataclass(frozen=True)
class Trial:
    """One setting at both ends of what was brewed so far; `answer` says how many brews of each show a difference.

    `row` is its row of the effects table; `grinder` is named where the dial of one is meant.
    """

    row: dict[str, object]
    factor: PlanFactor
    grinder: str | None
    answer: Answer
    brew_sd: float
    brew_sd_interval: tuple[float, float] | None


@dataclass(frozen=True)
class MethodState:
    """Counts leave void brews out. `n_sure` yields have an uncertainty, `why_unsure` why others have none.

    `n_in_doubt` brews have readings in doubt. `difference` (points) is what matters, `is_declared` by a study.
    `measuring` is the share of measuring in what brews of one coffee, session and operator differ by, 0 to 1. None
    stands for what could not be worked out, or was not needed; `refusal` is why there are no effects.
    """

    method: str
    n_brews: int
    n_yields: int
    n_sure: int
    why_unsure: str
    n_coffees: int
    n_in_doubt: int
    difference: float
    is_declared: bool
    effects: EffectsResult | None = None
    refusal: str = ""
    diagnosis: Diagnosis | None = None
    measuring: float | None = None
    added: Augmented | None = None
    trial: Trial | None = None
    best: Prediction | None = None
