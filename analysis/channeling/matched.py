"""What channeled brews yielded against clean ones at the same recipe: compared inside recipes that have both."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import polars as pl
from scipy import stats

from analysis.channeling.seen import YieldColumn, refuse_one_sided, sound_brews
from analysis.effects.factors import plural
from analysis.measurement.same_recipe import with_recipe
from analysis.mixed.arrays import CONFIDENCE, Floats, NoFit
from analysis.mixed.model import MixedFit, RandomPart, fit_mixed_model
from analysis.words import method_word
from schemas.problem import ProblemError

FEWEST_EACH = 2
FEWEST_DF = 3


@dataclass(frozen=True, slots=True)
class MatchedEffect:
    """Yield of channeled less clean brews of one recipe, in points, with its 95 % t interval.

    `difference` is the model's: a level for each recipe and, where its variance is above zero, one for each session;
    without sessions it equals `plain_difference`, the mean difference inside recipes weighted by n1 n0 / (n1 + n0).
    `rules` are the definitions of a recipe that were used; `n_unmatched` brews were looked at but had no counterpart.
    """

    difference: float
    low: float
    high: float
    std_error: float
    df: float
    p_value: float
    plain_difference: float
    n_recipes: int
    n_channeled: int
    n_clean: int
    n_unmatched: int
    n_coffees: int
    with_sessions: bool
    rules: tuple[str, ...]

    @property
    def settled(self) -> bool:
        """True where the interval does not include zero."""
        return self.low > 0 or self.high < 0


def matched_effect(facts: pl.DataFrame, *, method: str, result: YieldColumn = "extraction_yield_pct") -> MatchedEffect:
    """Compare within recipes of a method; ProblemError where no or too few recipes have both kinds of brew."""
    sound = sound_brews(facts, method=method)
    looked_at = sound.filter(pl.col("channeled").is_not_null() & pl.col(result).is_not_null())
    refuse_one_sided(looked_at, method)
    rows = strata(looked_at)
    _refuse_few(rows, looked_at, method)
    y = rows[result].cast(pl.Float64).to_numpy()
    seen = rows["channeled"].cast(pl.Float64).to_numpy()
    codes = rows["recipe_no"].rank("dense").cast(pl.Int64).to_numpy() - 1
    fit = _fit(y, seen, codes, rows)
    contrast = np.eye(fit.estimate.size)[0]
    estimate, error, df = float(fit.estimate[0]), fit.standard_error(contrast), fit.df(contrast)
    reach = float(stats.t.ppf(0.5 + CONFIDENCE / 2, df)) * error
    return MatchedEffect(
        difference=estimate,
        low=estimate - reach,
        high=estimate + reach,
        std_error=error,
        df=df,
        p_value=float(2 * stats.t.sf(abs(estimate / error), df)),
        plain_difference=weighted_difference(y, seen, codes),
        n_recipes=rows["recipe_no"].n_unique(),
        n_channeled=int(seen.sum()),
        n_clean=int(seen.size - seen.sum()),
        n_unmatched=looked_at.height - rows.height,
        n_coffees=rows["coffee_id"].n_unique(),
        with_sessions=bool(fit.components),
        rules=tuple(sorted(rows["recipe_rule"].unique(), reverse=True)),
    )


def strata(looked_at: pl.DataFrame) -> pl.DataFrame:
    """The brews of recipes that have a channeled and a clean one, with recipe_no and recipe_rule."""
    both = pl.col("channeled").n_unique().over("recipe_no") == 2
    return with_recipe(looked_at).filter(pl.col("recipe_no").is_not_null()).filter(both)


def weighted_difference(y: Floats, seen: Floats, codes: np.ndarray) -> float:
    """Mean difference inside strata weighted by n1 n0 / (n1 + n0): least squares with a level for each stratum."""
    size = np.bincount(codes)
    inside = seen - (np.bincount(codes, seen) / size)[codes]
    return float(inside @ y / (inside @ inside))


def _refuse_few(rows: pl.DataFrame, looked_at: pl.DataFrame, method: str) -> None:
    word = method_word(method)
    if rows.is_empty():
        raise ProblemError(
            f"No recipe of {word} has both a channeled and a clean brew ({plural('brew', looked_at.height)} looked "
            "at), so like cannot be compared with like. Brew a recipe that channeled again."
        )
    channeled, recipes = int(rows["channeled"].sum()), rows["recipe_no"].n_unique()
    clean, df = rows.height - channeled, rows.height - recipes - 1
    if min(channeled, clean) < FEWEST_EACH or df < FEWEST_DF:
        raise ProblemError(
            f"Too few brews of {word} to compare at the same recipe: {channeled} channeled and {clean} clean in "
            f"{plural('recipe', recipes)}; it takes {FEWEST_EACH} of each and {FEWEST_DF} brews to spare. "
            "Brew those recipes again."
        )


def _fit(y: Floats, seen: Floats, codes: np.ndarray, rows: pl.DataFrame) -> MixedFit:
    """Levels of recipes taken out exactly, a variance for sessions where every brew has one; refusals in words."""
    levels = (codes[:, None] == np.arange(codes.max() + 1)).astype(np.float64)
    x = np.column_stack([seen, levels])
    residual = y - x @ np.linalg.lstsq(x, y, rcond=None)[0]
    if residual @ residual <= 1e-20 * max(float((y - y.mean()) @ (y - y.mean())), 1e-20):
        raise ProblemError(
            "Brews of one recipe and kind all have the same yield to the last digit, so nothing tells how sure a "
            "difference is. Check where these values come from."
        )
    fit = fit_mixed_model(y, x, _session_part(rows, x))
    if isinstance(fit, NoFit):
        raise ProblemError(f"The comparison at the same recipe cannot be shown: {fit.reason}. Brew more.")
    return fit


def _session_part(rows: pl.DataFrame, x: Floats) -> list[RandomPart]:
    """A level for each session, where sessions repeat and are not what the recipes already tell apart."""
    sessions = rows["session_id"]
    if sessions.null_count() or not 1 < sessions.n_unique() < rows.height:
        return []
    codes = sessions.rank("dense").cast(pl.Int64).to_numpy() - 1
    levels = (codes[:, None] == np.arange(codes.max() + 1)).astype(np.float64)
    joint = int(np.linalg.matrix_rank(np.column_stack([x, levels])))
    if joint <= np.linalg.matrix_rank(x) or joint >= rows.height:
        return []
    return [RandomPart("session", codes, np.ones(rows.height))]
