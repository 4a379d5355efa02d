"""Worksheet rows to dishes: what each one held, what was left in it, and whether it was dry."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Literal

import polars as pl

from analysis.measurement.pairing import OVEN
from analysis.words import count, number
from schemas.lab import DryingSettings

State = Literal["dry", "weighed once", "still losing", "gained", "unusable"]
DISH = ("instrument_id", "drying_id", "brew_id", "sample_no", "replicate", "is_blank")
SAME_G = 1e-9
"""Two weights of one empty dish closer than this are the same number."""


@dataclass(frozen=True, slots=True)
class Dish:
    """One dish, all masses in g; `weighings` are dish and residue after drying, in their order.

    `brew_id` is empty for a blank dish. `sample_g` is the beverage poured in (0 in a blank dish). `scale_u_g` and
    `resolution_g` are null where the weighing scale is unnamed or does not say. `problem` says why the rows of the
    dish make no dish; its masses then mean nothing.
    """

    brew_id: str
    oven: str
    drying_id: str
    sample_no: int
    replicate: int
    is_blank: bool
    scale: str
    scale_u_g: float | None
    resolution_g: float | None
    dish_g: float
    sample_g: float
    weighings: tuple[float, ...]
    dried_at: datetime | None
    temp_c: float | None
    problem: str = ""

    @property
    def residue_g(self) -> float:
        """What is left at the last weighing."""
        return self.weighings[-1] - self.dish_g

    @property
    def most_left_g(self) -> float:
        """What can be left at most: the dish at its lightest."""
        return min(self.weighings) - self.dish_g

    @property
    def last_change_g(self) -> float:
        """Last weighing less the one before; 0 where there is only one."""
        return self.weighings[-1] - self.weighings[-2] if len(self.weighings) > 1 else 0.0

    def state(self, settings: DryingSettings) -> State:
        """Whether the dish reached constant mass, by the lab's criterion."""
        if self.problem:
            return "unusable"
        if len(self.weighings) < 2:
            return "weighed once"
        if abs(self.last_change_g) <= self.allowed_change_g(settings):
            return "dry"
        return "still losing" if self.last_change_g < 0 else "gained"

    def allowed_change_g(self, settings: DryingSettings) -> float:
        """Largest difference of the last two weighings that counts as constant mass."""
        share_g = settings.constant_mass_pct / 100 * self.residue_g
        return max(share_g, self.resolution_g or 0.0) + SAME_G


def read_dishes(dryings: pl.DataFrame, instruments: pl.DataFrame) -> tuple[Dish, ...]:
    """Dishes in the order of oven, run, brew, sample and replicate, blank dishes among them.

    `dryings` has the contract's columns; `instruments` instrument_id, resolution and standard_uncertainty (g for a
    weighing scale). An empty sample is sample 1, an empty oven is `OVEN`.
    """
    scales = instruments.select(
        scale_id="instrument_id", scale_u_g="standard_uncertainty", scale_resolution_g="resolution"
    )
    ordered = (
        dryings.join(scales, on="scale_id", how="left")
        .with_columns(
            pl.col("sample_no").fill_null(1),
            pl.col("instrument_id").fill_null(OVEN),
            pl.col("drying_id", "brew_id", "scale_id").fill_null(""),
            pl.col("is_blank").fill_null(False),
        )
        .sort(*DISH, "weighing_no", nulls_last=True)
    )
    return tuple(_dish(rows.to_dicts()) for rows in ordered.partition_by(DISH, maintain_order=True))


def _dish(rows: Sequence[dict[str, Any]]) -> Dish:
    first = rows[0]
    known = {name: _said(rows, name) for name in ("dish_g", "dish_plus_sample_g", "scale_id")}
    dish_g, full_g = (known[name][0] if known[name] else None for name in ("dish_g", "dish_plus_sample_g"))
    weighings = tuple(row["dish_plus_dry_g"] for row in rows)
    times = [row["dried_at"] for row in rows if row["dried_at"] is not None]
    temperatures = [row["dry_temp_c"] for row in rows if row["dry_temp_c"] is not None]
    return Dish(
        brew_id=first["brew_id"],
        oven=first["instrument_id"],
        drying_id=first["drying_id"],
        sample_no=first["sample_no"],
        replicate=first["replicate"],
        is_blank=first["is_blank"],
        scale=known["scale_id"][0] if known["scale_id"] else "",
        scale_u_g=next((row["scale_u_g"] for row in rows if row["scale_u_g"] is not None), None),
        resolution_g=next((row["scale_resolution_g"] for row in rows if row["scale_resolution_g"] is not None), None),
        dish_g=dish_g or 0.0,
        sample_g=0.0 if full_g is None or dish_g is None or first["is_blank"] else full_g - dish_g,
        weighings=weighings,
        dried_at=max(times) if times else None,
        temp_c=temperatures[-1] if temperatures else None,
        problem=_problem(known, dish_g, full_g, weighings, is_blank=first["is_blank"]),
    )


def _said(rows: Sequence[dict[str, Any]], name: str) -> list[Any]:
    """The different values that the rows of one dish give a column, empty cells aside."""
    values: list[Any] = []
    for row in rows:
        value = row[name]
        if value in (None, ""):
            continue
        if not any(value == other or (name != "scale_id" and abs(value - other) <= SAME_G) for other in values):
            values.append(value)
    return values


def _problem(
    known: dict[str, list[Any]],
    dish_g: float | None,
    full_g: float | None,
    weighings: Sequence[float],
    *,
    is_blank: bool,
) -> str:
    """Why these rows make no dish; empty if they do."""
    for name, values in known.items():
        if len(values) > 1:
            return f"its rows give {count(len(values), 'value')} of {name}: {', '.join(map(str, values))}"
    if dish_g is None:
        return "dish_g is empty on every row"
    return "" if is_blank else _sample_problem(dish_g, full_g, weighings)


def _sample_problem(dish_g: float, full_g: float | None, weighings: Sequence[float]) -> str:
    if full_g is None:
        return "dish_plus_sample_g is empty on every row"
    if full_g <= dish_g:
        return f"dish_plus_sample_g {number(full_g, 4)} g is not more than dish_g {number(dish_g, 4)} g"
    if not dish_g < min(weighings) or max(weighings) > full_g:
        return "a weighing after drying lies outside dish_g to dish_plus_sample_g"
    return ""
