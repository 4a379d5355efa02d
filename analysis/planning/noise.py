"""How far brews scatter in this lab: what plans and powers are reckoned with."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import polars as pl
from scipy import stats

from analysis.effects.factors import FACTORS, RESPONSES, difference_unit
from analysis.mixed.arrays import Floats, Ints, NoFit
from analysis.mixed.model import MixedFit, RandomPart, fit_mixed_model
from analysis.words import count, digits_for, listed, method_word, number, span
from schemas.problem import ProblemError

FEWEST_COFFEES = 3
FEWEST_DF = 3
"""With less, a spread is known to no better than a factor of four."""


@dataclass(frozen=True)
class Noise:
    """Standard deviations in the unit of the response.

    `brew_sd`: brew to brew at the same settings of one coffee in one session, known with `df` degrees of freedom
    (None: given, not estimated). `session_sd`, `coffee_sd`: between sessions, between coffees; `slope_sds`: how far
    each term's slope differs between coffees, in the order of the terms, per unit of its column; `whole_plot_sd`: from
    one setting-up of what is hard to change to the next. `said` tells where all this comes from.
    """

    brew_sd: float
    df: float | None = None
    session_sd: float = 0.0
    coffee_sd: float = 0.0
    slope_sds: tuple[float, ...] = ()
    whole_plot_sd: float = 0.0
    said: str = ""

    def interval(self) -> tuple[float, float] | None:
        """95 % interval of `brew_sd` from chi-squared; None where it was given."""
        if self.df is None:
            return None
        low, high = (math.sqrt(self.df / float(stats.chi2.ppf(q, self.df))) for q in (0.975, 0.025))
        return self.brew_sd * low, self.brew_sd * high


def check_asked(response: str, difference: float | None) -> None:
    """Raise ProblemError for a result that nobody can plan for, or a difference that is none."""
    if response not in RESPONSES:
        raise ProblemError(f"{response!r} is not a result that can be planned for. The list: {', '.join(RESPONSES)}.")
    if difference is not None and not (math.isfinite(difference) and difference > 0):
        raise ProblemError(f"The difference that matters is {difference:g}; it must be a number above 0.")


def given_noise(brew_sd: float, response: str) -> Noise:
    """A spread that somebody names."""
    if not (math.isfinite(brew_sd) and brew_sd > 0):
        raise ProblemError(f"The spread from brew to brew is {brew_sd:g}; it must be a number above 0.")
    unit = difference_unit(response)
    return Noise(brew_sd, said=f"Brews are taken to scatter by {brew_sd:g} {unit}, as you say.")


def lab_noise(
    facts: pl.DataFrame,
    *,
    response: str,
    method: str,
    settings: Sequence[str] = (),
    coffees: Sequence[str] = (),
    slopes: Sequence[str] = (),
) -> Noise:
    """The lab's own noise: what is left of `response` once coffee, session and the varied settings are taken out.

    REML with coffee and session as variance components where there are two or more of them. A setting enters with its
    slope and, where it was brewed at three levels or more, its square, so that what was varied does not count as noise.
    Each of `slopes` (among the settings) may also have a slope that differs by coffee, where three coffees show it.
    """
    used = _usable(facts, response=response, method=method, settings=settings, coffees=coffees)
    varied = [name for name in settings if used[name].n_unique() > 1]
    y = used[response].cast(pl.Float64).to_numpy()
    x = _columns(used, varied)
    parts = [*_parts(used), *_slope_parts(used, slopes)]
    fit = fit_mixed_model(y, x, parts)
    if isinstance(fit, NoFit):
        raise ProblemError(f"How far brews scatter could not be worked out: {fit.reason}. Name it with --spread.")
    df = _freedom(x, parts)
    if df < FEWEST_DF:
        raise ProblemError(
            f"{count(used.height, 'brew')} leave {count(max(df, 0), 'degree')} of freedom for the spread from brew to "
            "brew, which is too few. Brew one recipe a few times over, or name the spread with --spread."
        )
    return _as_noise(fit, df, used, response=response, method=method, varied=varied, slopes=slopes)


def _usable(
    facts: pl.DataFrame, *, response: str, method: str, settings: Sequence[str], coffees: Sequence[str]
) -> pl.DataFrame:
    check_asked(response, None)
    wanted = (pl.col("method") == method) & ~pl.col("is_void") & pl.col(response).is_not_null()
    if coffees:
        wanted &= pl.col("coffee_id").is_in(list(coffees))
    known = [name for name in settings if name in facts.columns and facts[name].null_count() < facts.height]
    for name in known:
        wanted &= pl.col(name).is_not_null()
    used = facts.filter(wanted)
    if used.height < FEWEST_DF + 2:
        raise ProblemError(
            f"There are {count(used.height, 'brew')} of {method_word(method)} with a {response}"
            f"{' and all these settings' if settings else ''}: too few to know how far brews scatter. Brew one recipe "
            "five times or more, or name the spread with --spread."
        )
    missing = [pl.lit(0.0).alias(name) for name in settings if name not in known]
    return used.with_columns(missing)


def _columns(used: pl.DataFrame, varied: Sequence[str]) -> Floats:
    """An intercept, centred slopes, and squares of what was brewed at three levels or more."""
    columns = [np.ones(used.height)]
    for name in varied:
        values = used[name].cast(pl.Float64).to_numpy()
        columns.append(values - values.mean())
    for name in varied:
        if used[name].n_unique() > 2:
            values = used[name].cast(pl.Float64).to_numpy()
            columns.append((values - values.mean()) ** 2)
    kept = [columns[0]]
    for column in columns[1:]:
        tried = np.column_stack([*kept, column / np.sqrt(np.mean(column**2))])
        if np.linalg.matrix_rank(tried, tol=1e-7) == tried.shape[1]:
            kept.append(column / np.sqrt(np.mean(column**2)))
    return np.column_stack(kept)


def _parts(used: pl.DataFrame) -> list[RandomPart]:
    ones = np.ones(used.height)
    parts = []
    for name, word in (("coffee_id", "coffee"), ("session_id", "session")):
        known = used[name].fill_null("")
        if 1 < known.n_unique() < used.height:
            parts.append(RandomPart(word, _codes(known), ones))
    return parts


def _slope_parts(used: pl.DataFrame, slopes: Sequence[str]) -> list[RandomPart]:
    """A slope of its own for every coffee, where enough coffees were brewed at two settings or more to show any."""
    coffees = _codes(used["coffee_id"])
    found = []
    for name in slopes:
        turned = used.group_by("coffee_id").agg(pl.col(name).n_unique()).filter(pl.col(name) > 1).height
        if turned >= FEWEST_COFFEES:
            values = used[name].cast(pl.Float64).to_numpy()
            found.append(RandomPart(_slope_name(name), coffees, values - values.mean()))
    return found


def _slope_name(name: str) -> str:
    return f"{name} by coffee"


def _codes(values: pl.Series) -> Ints:
    return (values.rank("dense").cast(pl.Int64) - 1).to_numpy()


def _freedom(x: Floats, parts: Sequence[RandomPart]) -> int:
    """Brews less everything that has a level of its own."""
    levels = [(part.codes[:, None] == np.unique(part.codes)[None, :]) * part.slope[:, None] for part in parts]
    return int(x.shape[0] - np.linalg.matrix_rank(np.column_stack([x, *levels]), tol=1e-7))


def _as_noise(
    fit: MixedFit,
    df: int,
    used: pl.DataFrame,
    *,
    response: str,
    method: str,
    varied: Sequence[str],
    slopes: Sequence[str],
) -> Noise:
    found = {name: math.sqrt(variance) for name, variance in fit.components.items()}
    noise = Noise(
        fit.sigma,
        df,
        session_sd=found.get("session", 0.0),
        coffee_sd=found.get("coffee", 0.0),
        slope_sds=tuple(found.get(_slope_name(name), 0.0) for name in slopes),
    )
    low, high = noise.interval() or (0.0, 0.0)
    digits = digits_for([noise.brew_sd])
    unit = difference_unit(response)
    out = ["coffee"] if used["coffee_id"].n_unique() > 1 else []
    out += ["session"] if used["session_id"].n_unique() > 1 else []
    out += [FACTORS[name].noun for name in varied]
    taken = f", with {listed(out)} taken out" if out else ""
    said = (
        f"Brews of {method_word(method)} scatter by {number(noise.brew_sd, digits)} {unit} (standard deviation, 95 % "
        f"interval {span(low, high, digits)}; {count(used.height, 'brew')} of "
        f"{count(used['coffee_id'].n_unique(), 'coffee')}{taken})."
    )
    return replace(noise, said=said)
