"""What a prediction gives back."""

from __future__ import annotations

from dataclasses import dataclass

import polars as pl

from analysis.prediction.request import PredictRequest, Window


@dataclass(frozen=True, slots=True)
class Expected:
    """One response at the recipe, in its unit: the mean with its 95 % interval, and the 95 % range of one brew.

    `std_error` and `df` belong to the mean, `brew_sd` and `brew_df` to one brew's error of prediction.
    """

    response: str
    value: float
    std_error: float
    df: float
    low: float
    high: float
    brew_sd: float
    brew_df: float
    brew_low: float
    brew_high: float


@dataclass(frozen=True, slots=True)
class Landing:
    """Chance (a share) that one brew lands in `window`, with its 95 % interval."""

    window: Window
    chance: float
    low: float
    high: float


@dataclass(frozen=True)
class Found:
    """Settings that land in the window.

    `best`: FOUND_COLUMNS beside a column per factor, best first, neighbours of a better one left out. `n_tried`
    settings inside the region brewed were tried, `n_land` of them land with at least the chance asked for; `spans`
    gives, by factor, the lowest and highest setting among those that land.
    """

    best: pl.DataFrame
    n_tried: int
    n_land: int
    spans: dict[str, tuple[float, float]]


@dataclass(frozen=True)
class Prediction:
    """A recipe, what is expected of it, and whom that speaks for.

    `settings` by factor, `held` those at their mean because nobody said otherwise. `coffee` is None for a new one.
    `expected` holds yield, then strength; `correlation` is theirs, of brews at this recipe. Where
    settings were looked for, all of this is at the best found. `n_brews_coffee` counts the brews of `coffee`.
    """

    request: PredictRequest
    method: str
    coffee: str | None
    grinder: str | None
    settings: dict[str, float]
    held: tuple[str, ...]
    expected: tuple[Expected, ...]
    correlation: float
    landing: Landing | None
    found: Found | None
    scope: str
    n_brews: int
    n_coffees: int
    n_brews_coffee: int
    model: str
    left_out: str
    notes: tuple[str, ...]
