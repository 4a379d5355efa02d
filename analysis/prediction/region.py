"""Where brews were made: a recipe inside their settings is answered, one outside is refused with the reason."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from itertools import combinations

import numpy as np
import polars as pl
from scipy import optimize

from analysis.effects.factors import DIAL, FACTORS
from analysis.effects.rows import ChosenRows
from analysis.mixed.arrays import Bools, Floats
from analysis.prediction.rows import GRINDS, setting_words
from analysis.words import listed
from schemas.columns import COLUMNS
from schemas.problem import ProblemError

NEAR = 1e-6
"""Distance, in ranges of the settings, that is rounding and not a recipe outside."""
NEAREST = 2


@dataclass(frozen=True)
class Region:
    """The settings brewed: `points` (s, k) distinct settings of k `factors`, each over its range from its low end.

    `brews` holds the brews themselves; `where` says on which grinder, where that matters.
    """

    factors: tuple[str, ...]
    points: Floats
    low: Floats
    width: Floats
    brews: pl.DataFrame
    where: str = ""

    def scaled(self, settings: Mapping[str, Floats]) -> Floats:
        """Settings (m, k) in ranges from the low end."""
        return (np.column_stack([settings[name] for name in self.factors]) - self.low) / self.width


def brewed_region(chosen: ChosenRows, factors: tuple[str, ...], grinder: str | None) -> Region:
    """The region of the chosen brews; where a dial counts on one grinder, of the brews on it."""
    of_one = grinder is not None and DIAL in factors
    brews = chosen.brews.filter(pl.col("grinder_id") == grinder) if of_one else chosen.brews
    values = brews.select(pl.col(name).cast(pl.Float64) for name in factors).to_numpy()
    low, width = values.min(axis=0), np.ptp(values, axis=0)
    width = np.where(width > 0, width, 1.0)
    points = np.unique((values - low) / width, axis=0)
    return Region(factors, points, low, width, brews, f" on {grinder}" if of_one else "")


def inside(region: Region, settings: Mapping[str, Floats]) -> Bools:
    """Which of m recipes lie in the convex hull of the settings brewed, (m,).

    A recipe is inside where it is a weighted mean of settings brewed: weights w >= 0 with sum 1 and points'w = recipe.
    Whether such weights exist is a linear programme; it is put here as non-negative least squares (Lawson and Hanson
    1974, chapter 23), whose smallest distance is zero just then. Unlike a triangulation it takes any number of
    factors, and settings that lie on a line or a plane.
    """
    wanted = region.scaled(settings)
    table = np.vstack([region.points.T, np.ones(region.points.shape[0])])
    boxed = np.all((wanted >= -NEAR) & (wanted <= 1 + NEAR), axis=1)
    found = np.zeros(wanted.shape[0], dtype=bool)
    for place in np.flatnonzero(boxed):
        found[place] = optimize.nnls(table, np.append(wanted[place], 1.0))[1] <= NEAR
    return found


def check_inside(region: Region, settings: Mapping[str, float]) -> None:
    """Refuse a recipe outside the region brewed: names the setting, or settings together, and the nearest brews."""
    beyond = [_beyond(region, name, settings[name], k) for k, name in enumerate(region.factors)]
    said = [one for one in beyond if one]
    if not said and bool(inside(region, {name: np.array([value]) for name, value in settings.items()})[0]):
        return
    reason = "; ".join(said) if said else _together(region, settings)
    raise ProblemError(
        f"Nothing is said outside the region brewed: {reason}. Nearest: {nearest(region, settings)}. Ask for a recipe "
        "nearer to them, or brew there first."
    )


def _beyond(region: Region, name: str, value: float, k: int) -> str:
    """How one setting leaves its own range; empty where it does not."""
    low, high = region.low[k], region.low[k] + region.width[k] * region.points[:, k].max()
    slack = NEAR * region.width[k]
    if low - slack <= value <= high + slack:
        return ""
    noun, unit = FACTORS[name].noun, COLUMNS[name].unit
    unit = "steps finer" if name == DIAL else f"{unit} finer" if name in GRINDS else unit
    return f"{noun} was brewed from {low:.4g} to {high:.4g} {unit}{region.where}, and {value:.4g} was asked for"


def _together(region: Region, settings: Mapping[str, float]) -> str:
    """The first two settings that no brew reaches together; else all of them."""
    wanted = region.scaled({name: np.array([value]) for name, value in settings.items()})[0]
    side = np.where(wanted >= region.points.mean(axis=0), 1.0, -1.0)
    far = np.argsort(-np.abs(wanted - region.points.mean(axis=0)))
    reached = (region.points - wanted) * side >= -NEAR
    for first, second in combinations(far, 2):
        if not np.any(reached[:, first] & reached[:, second]):
            one, other = (_at_least(region.factors[k], settings[region.factors[k]], side[k]) for k in (first, second))
            return f"no brew{region.where} has {one} together with {other}"
    words = listed([setting_words(name, settings[name]) for name in region.factors])
    return f"{words} each lie within what was brewed{region.where}, but not together"


def _at_least(name: str, value: float, side: float) -> str:
    if FACTORS[name].is_yes_no:
        return setting_words(name, value)
    if name in GRINDS:
        unit = "steps" if name == DIAL else COLUMNS[name].unit
        return f"{FACTORS[name].noun} {value:+.4g} {unit} or {'finer' if side > 0 else 'coarser'}"
    return f"{FACTORS[name].noun} {value:.4g} {COLUMNS[name].unit} or {'more' if side > 0 else 'less'}"


def nearest(region: Region, settings: Mapping[str, float], *, most: int = NEAREST) -> str:
    """The brews nearest by settings, each over its range, with their settings."""
    wanted = region.scaled({name: np.array([value]) for name, value in settings.items()})[0]
    values = region.brews.select(pl.col(name).cast(pl.Float64) for name in region.factors).to_numpy()
    away = np.sum(((values - region.low) / region.width - wanted) ** 2, axis=1)
    rows = np.argsort(away, kind="stable")[:most]
    return listed([f"{region.brews['brew_id'][int(row)]} ({_settings_of(region, values[row])})" for row in rows])


def _settings_of(region: Region, values: Floats) -> str:
    return ", ".join(setting_words(name, float(value)) for name, value in zip(region.factors, values, strict=True))
