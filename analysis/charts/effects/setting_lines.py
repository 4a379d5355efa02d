"""What a setting does, drawn: the brews with the other settings held equal, and each coffee's line through them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import altair as alt
import numpy as np
import polars as pl

from analysis.charts import theme
from analysis.charts.brews import BrewMarks
from analysis.charts.domain import Domain, around
from analysis.effects.factors import FACTORS
from analysis.effects.result import EffectsResult
from analysis.words import capital, count, span
from schemas.columns import COLUMNS

HEIGHT = 240
FIELDS = ("i", "c", "state", "coffee", "place", "x", "y", "line")


@dataclass(frozen=True)
class SettingLines:
    """One setting of one method.

    `marks`: FIELDS, a row per drawn brew: `x` the setting, `y` the yield with the other settings at their means, `line`
    the height of the model's line of its coffee (and grinder, `place`) there. `n_brews` are those of the model.
    """

    factor: str
    marks: pl.DataFrame
    n_brews: int

    @property
    def title(self) -> str:
        """The axis' title, with the unit and the direction."""
        factor, unit = FACTORS[self.factor], _unit(self.factor)
        if self.factor.startswith("grind_"):
            return f"Grind ({unit} finer, finer to the right)"
        return f"{capital(factor.noun)} ({unit})"


def _unit(name: str) -> str:
    factor = FACTORS[name]
    return (
        f"{factor.counted}s" if factor.counted else {"C": "°C", "um": "µm"}.get(COLUMNS[name].unit, COLUMNS[name].unit)
    )


def setting_lines(result: EffectsResult, brews: pl.DataFrame, marks: BrewMarks) -> tuple[SettingLines, ...]:
    """Every setting of a fitted yield; `brews` (FACT_COLUMNS) hold those of the model.

    The other settings are held at their means by the model's own slopes, levels of coffees and grinders are those of
    the brews themselves.
    """
    used = result.residuals.select("brew_id").join(brews, on="brew_id", how="left", maintain_order="left")
    pulls = {name: _pull(result, used, name) for name in result.request.factors}
    found = []
    for name in result.request.factors:
        if FACTORS[name].is_yes_no:
            continue
        others = sum((pull for other, pull in pulls.items() if other != name), np.zeros(used.height))
        adjusted = used[result.request.response].cast(pl.Float64).to_numpy() - others
        found.append(SettingLines(name, _marks(used, name, adjusted, pulls[name], marks, result), used.height))
    return tuple(found)


def _pull(result: EffectsResult, used: pl.DataFrame, name: str) -> np.ndarray:
    """What the model says this factor adds to each brew, beyond its mean: slope, and curve where there is one."""
    values = used[name].cast(pl.Float64).to_numpy()
    total = np.zeros(used.height)
    rows = result.table.filter(pl.col("term").is_in([name, f"{name}^2"]))
    for row in rows.iter_rows(named=True):
        grinder = _grinder(row["per"])
        here = np.ones(used.height, dtype=bool) if grinder is None else (used["grinder_id"] == grinder).to_numpy()
        away = np.where(here, values - values[here].mean(), 0.0)
        slope = row["estimate"] / (row["step"] or 1.0)
        total += slope * (away if row["term"] == name else away**2)
    return total


def _grinder(per: str) -> str | None:
    return per.partition(" on ")[2] or None


def _marks(
    used: pl.DataFrame,
    name: str,
    adjusted: np.ndarray,
    pull: np.ndarray,
    marks: BrewMarks,
    result: EffectsResult,
) -> pl.DataFrame:
    by_grinder = any(_grinder(per) for per in result.table.filter(pl.col("term") == name)["per"])
    place = used["grinder_id"].fill_null("") if by_grinder else pl.Series([""] * used.height)
    frame = used.select("brew_id", "coffee_id", pl.col(name).cast(pl.Float64).alias("x")).with_columns(
        place.alias("place"), pl.Series("y", adjusted), pl.Series("pull", pull)
    )
    level = (pl.col("y") - pl.col("pull")).mean().over("coffee_id", "place")
    frame = frame.with_columns((level + pl.col("pull")).alias("line"))
    drawn = frame.join(marks.drawn.select("brew_id", "i", "c", "state", "coffee"), on="brew_id")
    return drawn.with_columns(pl.col("x", "y", "line").round(4)).sort("i").select(FIELDS)


def setting_domain(lines: tuple[SettingLines, ...]) -> Domain:
    """One range of yields for all settings of a method."""
    return around([value for one in lines for value in one.marks["y"]], least=1.0)


def setting_chart(title: str, one: SettingLines, domain: Domain) -> Any:
    """Points and lines; both are drawn from the page's rows, so that a filter takes a coffee's line away with it."""
    noun, unit = FACTORS[one.factor].noun, _unit(one.factor)
    span_x = around(one.marks["x"].to_list(), least=0.1)
    x = theme.axis_x("x:Q", one.title, span_x.low, span_x.high, digits=span_x.decimals)
    y = theme.axis_y("y:Q", "Yield, other settings alike (%)", domain.low, domain.high, digits=domain.decimals)
    lines = (
        alt.Chart(name="lines")
        .mark_line(strokeWidth=2, clip=True, interpolate="monotone", opacity=0.9)
        .encode(
            x=x,
            y=theme.along(y, "line:Q"),
            stroke=theme.coffee_edge(),
            detail=[alt.Detail("coffee:N"), alt.Detail("place:N")],
            order=alt.Order("x:Q"),
        )
    )
    low, high = (one.marks["x"].min(), one.marks["x"].max())
    ends = span(float(low), float(high), span_x.decimals) if one.marks.height else ""  # type: ignore[arg-type]
    about = (
        f"{title}: yield against {noun} ({ends} {unit}), the other settings alike; "
        f"{count(one.marks.height, 'brew')} and a line for each coffee, no further than it was brewed."
    )
    layers = [theme.brew_points(x, y, size=36), lines]
    return theme.layered(layers, data=alt.NamedData("residuals"), height=HEIGHT, about=about)
