"""Unflagged brews that yielded far less than their recipe predicts: offered for a second look, never labelled.

Each brew is set against a least-squares model of all unflagged brews but itself: its externally studentised residual
has a t distribution with n - p - 1 degrees of freedom (Cook and Weisberg 1982, Residuals and Influence, section 2.2.1).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import polars as pl
from scipy import stats

from analysis.channeling.screen_model import ScreenModel, screen_model
from analysis.channeling.seen import YieldColumn, sound_brews
from analysis.effects.factors import plural
from analysis.mixed.arrays import CONFIDENCE, Floats
from analysis.multiple import benjamini_hochberg
from analysis.words import method_word
from schemas.problem import ProblemError

FAMILY_ALARM = 0.05
FALSE_SHARE = 0.10
FEWEST = 10
FEWEST_DF = 5
PINNED = 1e-8
NO_SCATTER = 1e-9


@dataclass(frozen=True, slots=True)
class LowBrew:
    """A brew that yielded less than its recipe predicts, in % of the dose; the 95 % interval is for one such brew.

    The prediction leaves the brew itself out. `p_value` is one-sided, `p_bonferroni` for all brews tested together,
    `p_false_share` adjusted by Benjamini and Hochberg; `strong` where the Bonferroni value is at most 5 %.
    """

    brew_id: str
    looked_at: bool
    yielded: float
    predicted: float
    low: float
    high: float
    studentised: float
    p_value: float
    p_bonferroni: float
    p_false_share: float

    @property
    def strong(self) -> bool:
        """On the first list, whose chance of any false alarm is at most 5 %."""
        return self.p_bonferroni <= FAMILY_ALARM


@dataclass(frozen=True, slots=True)
class LowYieldScreen:
    """`found`: the brews to look at again, lowest first; the softer list holds the strong ones too.

    `n_tested` brews were tested, `n_alone` had no like to be judged by (leverage 1), `n_incomplete` lacked a value of
    `model`, the words of what predicts; `df` degrees of freedom; `sd` the scatter of single brews in points.
    """

    found: tuple[LowBrew, ...]
    n_tested: int
    n_alone: int
    n_incomplete: int
    df: int
    sd: float
    model: str


@dataclass(frozen=True)
class LeftOut:
    """Each row against the model of all others: `predicted` (n,), `spread` (n,) of what they miss, `leverage` (n,).

    `df` = n - p - 1; rows of leverage 1 hold NaN.
    """

    predicted: Floats
    spread: Floats
    leverage: Floats
    df: int
    sd: float


def leave_each_out(y: Floats, x: Floats) -> LeftOut:
    """Predictions of `y` (n,) from all other rows, for any `x` (n, k): columns that repeat each other do no harm."""
    u, weights, _ = np.linalg.svd(x, full_matrices=False)
    basis = u[:, weights > 1e-10 * weights[0]]
    p = basis.shape[1]
    leverage = np.sum(basis * basis, axis=1)
    residual = y - basis @ (basis.T @ y)
    room = np.where(leverage < 1 - PINNED, 1 - leverage, np.nan)
    df = y.size - p - 1
    squares = float(residual @ residual)
    variance = (squares - residual**2 / room) / df
    spread = np.sqrt(np.where(variance > 0, variance, np.nan) / room)
    return LeftOut(y - residual / room, spread, leverage, df, float(np.sqrt(squares / (df + 1))))


def low_yield_screen(
    facts: pl.DataFrame, *, method: str, result: YieldColumn = "extraction_yield_pct"
) -> LowYieldScreen:
    """Screen the brews of a method that are clean or not looked at; ProblemError where there are too few to tell."""
    unflagged = sound_brews(facts, method=method).filter(~pl.col("channeled").fill_null(value=False))
    model = screen_model(unflagged, result=result)
    y = model.brews[result].cast(pl.Float64).to_numpy()
    _refuse_few(model, method)
    each = leave_each_out(y, model.x)
    if each.sd <= NO_SCATTER * float(np.max(np.abs(y))):
        raise ProblemError(
            f"The recipe gives the yields of {method_word(method)} back to the last digit, without any scatter, so no "
            "brew can stand out. Check where these values come from."
        )
    studentised = (y - each.predicted) / each.spread
    tested = np.isfinite(studentised)
    p_values = np.where(tested, stats.t.cdf(studentised, each.df), np.nan)
    n_tested = int(tested.sum())
    return LowYieldScreen(
        found=_found(model, y, each, studentised, p_values),
        n_tested=n_tested,
        n_alone=y.size - n_tested,
        n_incomplete=model.n_incomplete,
        df=each.df,
        sd=each.sd,
        model=model.said,
    )


def _refuse_few(model: ScreenModel, method: str) -> None:
    n, p = model.brews.height, int(np.linalg.matrix_rank(model.x)) if model.brews.height else 0
    if n < FEWEST or n - p - 1 < FEWEST_DF:
        raise ProblemError(
            f"Too few brews of {method_word(method)} to say what a recipe predicts: {plural('unflagged brew', n)} with "
            f"a yield, {p} numbers to work out ({model.said}). At least {max(FEWEST, p + 1 + FEWEST_DF)} are needed."
        )


def _found(model: ScreenModel, y: Floats, each: LeftOut, studentised: Floats, p_values: Floats) -> tuple[LowBrew, ...]:
    n_tested = int(np.isfinite(p_values).sum())
    false_share = benjamini_hochberg(p_values)
    reach = float(stats.t.ppf(0.5 + CONFIDENCE / 2, each.df)) * each.spread
    hits = [row for row in range(y.size) if false_share[row] <= FALSE_SHARE or n_tested * p_values[row] <= FAMILY_ALARM]
    hits.sort(key=lambda row: float(studentised[row]))
    ids, seen = model.brews["brew_id"].to_list(), model.brews["channeled"].is_not_null().to_list()
    return tuple(
        LowBrew(
            brew_id=ids[row],
            looked_at=seen[row],
            yielded=float(y[row]),
            predicted=float(each.predicted[row]),
            low=float(each.predicted[row] - reach[row]),
            high=float(each.predicted[row] + reach[row]),
            studentised=float(studentised[row]),
            p_value=float(p_values[row]),
            p_bonferroni=min(float(n_tested * p_values[row]), 1.0),
            p_false_share=float(false_share[row]),
        )
        for row in hits
    )
