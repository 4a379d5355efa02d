"""Planned against brewed: what was brewed, missed or changed, and whether the order was kept."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from itertools import pairwise

import polars as pl

from analysis.dial import read_setting
from analysis.measurement.same_recipe import DOSE_WITHIN_G, RATIO_WITHIN
from analysis.words import count, listed
from schemas.columns import COLUMNS
from schemas.run_sheet import PLANNED

Setting = str | float | None
MASSES = ("planned_water_g", "planned_beverage_g")
SLACK = 1e-9
MOST_NAMED = 6


@dataclass(frozen=True, slots=True)
class OffPlan:
    """One setting of one brew that differs from the plan by more than `allowed`, in words of its own unit."""

    brew_id: str
    column: str
    planned: str
    brewed: str
    allowed: str


@dataclass(frozen=True)
class PlanKept:
    """How a run sheet was followed. `unplanned` are brews of the study that no row of the sheet names.

    `order_kept` maps each session to whether it was brewed in the planned order, None where only days were noted.
    """

    n_planned: int
    brewed: tuple[str, ...]
    missed: tuple[str, ...]
    void: tuple[str, ...]
    off_plan: tuple[OffPlan, ...]
    unplanned: tuple[str, ...]
    order_kept: Mapping[str, bool | None]

    def sentences(self) -> tuple[str, ...]:
        """The comparison in words, most important first."""
        said = [f"{len(self.brewed)} of {count(self.n_planned, 'planned brew')} were brewed."]
        if self.missed:
            said.append(f"Not brewed: {_named(self.missed)}.")
        if self.void:
            said.append(f"Void: {_named(self.void)}.")
        off = tuple(dict.fromkeys(one.brew_id for one in self.off_plan))
        if off:
            said.append(f"Brewed at other settings than planned: {_named(off)}.")
        elif self.brewed:
            said.append("Every setting was as planned, to what the kit can do.")
        if self.unplanned:
            said.append(f"Under this study but not on the sheet: {_named(self.unplanned)}.")
        return (*said, *self._order())

    def _order(self) -> list[str]:
        broken = [session for session, kept in self.order_kept.items() if kept is False]
        unknown = [session for session, kept in self.order_kept.items() if kept is None]
        said = []
        if broken:
            said.append(
                f"The random order was not kept in {listed(broken)}: a drift in the session may now pass for an effect."
            )
        elif self.order_kept and not unknown:
            said.append("The random order was kept.")
        if unknown:
            said.append(f"Only days were noted in {listed(unknown)}, so nobody can tell whether the order was kept.")
        return said


def compare_plan(
    planned: pl.DataFrame, facts: pl.DataFrame, *, study_id: str, steps: Mapping[str, float] | None = None
) -> PlanKept:
    """Compare the planned rows of a sheet (brews' columns, purges left out) with the brews of the log.

    A setting is off plan when it differs by more than its step (`steps`, by column) or by more than half the smallest
    gap between two planned levels, for then it may pass for another; masses have the tolerances of "the same recipe",
    a dial none.
    """
    own = facts.filter(pl.col("brew_id").is_in(planned["brew_id"].implode()))
    ids = set(own["brew_id"])
    of_study = facts.filter(pl.col("study_id") == study_id)
    return PlanKept(
        n_planned=planned.height,
        brewed=tuple(one for one in planned["brew_id"] if one in ids),
        missed=tuple(one for one in planned["brew_id"] if one not in ids),
        void=tuple(own.filter(pl.col("is_void"))["brew_id"]),
        off_plan=_off_plan(planned, own, steps or {}),
        unplanned=tuple(one for one in of_study["brew_id"] if one not in set(planned["brew_id"])),
        order_kept=_order_kept(planned, own),
    )


def _off_plan(planned: pl.DataFrame, own: pl.DataFrame, steps: Mapping[str, float]) -> tuple[OffPlan, ...]:
    columns = [name for name in PLANNED if name in planned.columns]
    done = own.select("brew_id", "coffee_id", *(PLANNED[name] for name in columns))
    rows = planned.select("brew_id", "coffee_id", *columns).join(
        done, on="brew_id", suffix="_brewed", maintain_order="left"
    )
    allowed = {name: _allowed(planned[name], steps) for name in columns}
    found = []
    for row in rows.iter_rows(named=True):
        if row["coffee_id"] != row["coffee_id_brewed"]:
            found.append(OffPlan(row["brew_id"], "coffee_id", row["coffee_id"], row["coffee_id_brewed"], "the same"))
        for name in columns:
            differs = _differs(name, row[name], row[PLANNED[name]], allowed[name])
            if differs is not None:
                found.append(OffPlan(row["brew_id"], PLANNED[name], *differs))
    return tuple(found)


def _allowed(levels: pl.Series, steps: Mapping[str, float]) -> float:
    """The most a setting may differ: grams per gram planned for water and beverage, else in its own unit."""
    name = PLANNED[levels.name]
    if levels.name in MASSES:
        return RATIO_WITHIN
    if name == "dose_g":
        return steps.get(name, DOSE_WITHIN_G)
    numbers = sorted(set(levels.drop_nulls())) if levels.dtype.is_numeric() else []
    gaps = [(high - low) / 2 for low, high in pairwise(numbers)]
    return min([*gaps, *([steps[name]] if name in steps else [])], default=0.0)


def _differs(name: str, planned: Setting, brewed: Setting, allowed: float) -> tuple[str, str, str] | None:
    """Planned, brewed and allowed in words where they differ by more; None where they do not, or one is not known."""
    if planned is None or brewed is None:
        return None
    unit = f" {COLUMNS[PLANNED[name]].unit}".rstrip()
    want, made = _as_number(planned), _as_number(brewed)
    if want is None or made is None:
        return None if str(planned).strip() == str(brewed).strip() else (str(planned), str(brewed), "the same")
    room = allowed * want if name in MASSES else allowed
    if abs(made - want) <= room + SLACK:
        return None
    return f"{want:g}{unit}", f"{made:g}{unit}", f"within {room:g}{unit}" if room else "the same"


def _as_number(value: str | float) -> float | None:
    return read_setting(value, None) if isinstance(value, str) else float(value)


def _order_kept(planned: pl.DataFrame, own: pl.DataFrame) -> dict[str, bool | None]:
    rows = planned.select("brew_id", "session_id", "run_order").join(
        own.select("brew_id", "brewed_at", "brewed_at_is_date"), on="brew_id", maintain_order="left"
    )
    kept: dict[str, bool | None] = {}
    for session, part in ((name[0], frame) for name, frame in rows.group_by("session_id", maintain_order=True)):
        if part.height < 2:
            continue
        if part["brewed_at_is_date"].any():
            kept[str(session)] = None
        else:
            kept[str(session)] = bool(part.sort("run_order")["brewed_at"].is_sorted())
    return kept


def _named(ids: tuple[str, ...]) -> str:
    """A few names, and how many more."""
    more = len(ids) - MOST_NAMED
    shown = [*ids[:MOST_NAMED], f"{more} more"] if more > 1 else list(ids)
    return listed(shown)
