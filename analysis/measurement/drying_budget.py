"""The errors of a strength by drying, line by line: JCGM 100, 5.1.2 over `T = 100 (Y - D - b) / (S - D)`.

D is the empty dish, S the dish with the sample, Y the dish with the residue, b the blank, all in g; T in %. Every
weighing reads the weighing scale twice, for tare and for load. What is left of the scale's calibration counts in full
on each net mass: it would cancel between two weighings of one dish only if it were the same at both loads, which
nobody has shown.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterator, Sequence

from analysis.measurement.component import Component, Kind
from analysis.measurement.drying_scatter import DishScatter
from analysis.measurement.drying_strength import DishStrength
from analysis.words import number
from schemas.lab import DryingSettings

RECTANGLE = math.sqrt(3)


def lines_of(
    dishes: Sequence[DishStrength], tds_pct: float, scatter: DishScatter | None, settings: DryingSettings
) -> tuple[list[Component] | None, list[str]]:
    """Lines of the budget of a mean of dishes, and what they leave out in words.

    No lines where a weighing scale is unnamed or states no uncertainty.
    """
    silent = sorted({one.dish.scale or "an unnamed weighing scale" for one in dishes if one.dish.scale_u_g is None})
    if silent:
        return None, [f"no standard_uncertainty of {', '.join(silent)}: no uncertainty can be stated"]
    lines = [*_scatter(dishes, tds_pct, scatter), *_weighings(dishes), *_blank(dishes), *_not_quite_dry(dishes)]
    loss = settings.volatile_loss_u_pct
    if loss:
        oven = dishes[0].dish.oven
        lines.append(Component("volatile loss", loss, tds_pct / 100, math.inf, "B", "volatile loss", shared=oven))
    return [line for line in lines if line.u > 0], _left_out(dishes, scatter, settings)


def _scatter(dishes: Sequence[DishStrength], tds_pct: float, scatter: DishScatter | None) -> Iterator[Component]:
    if scatter is not None and scatter.beyond > 0:
        u = tds_pct * scatter.beyond / math.sqrt(len(dishes))
        yield Component("scatter of dishes", u, 1.0, scatter.beyond_df, "A", "scatter of dishes")


def _weighings(dishes: Sequence[DishStrength]) -> Iterator[Component]:
    """Display steps, new at every weighing; and what is left of calibration, the same for all dishes on one scale."""
    n = len(dishes)
    scales: defaultdict[str, list[DishStrength]] = defaultdict(list)
    for one in dishes:
        scales[one.dish.scale].append(one)
    display = math.hypot(*(one.display_u_pct for one in dishes)) / n
    yield Component("display step", display, 1.0, math.inf, "B", "weighing")
    for scale, on_it in scales.items():
        bias = on_it[0].dish.scale_u_g or 0.0
        residue = math.fsum(100 / one.dish.sample_g for one in on_it) / n
        sample = math.fsum(-one.tds_pct / one.dish.sample_g for one in on_it) / n
        yield Component("residue bias", bias, residue, math.inf, "B", "weighing", shared=scale)
        yield Component("sample bias", bias, sample, math.inf, "B", "weighing", shared=scale)


def _blank(dishes: Sequence[DishStrength]) -> Iterator[Component]:
    """The blank correction, the same for every dish of an oven run."""
    runs: defaultdict[str, list[DishStrength]] = defaultdict(list)
    for one in dishes:
        runs[one.dish.drying_id].append(one)
    for run, of_run in runs.items():
        blank = of_run[0].blank
        if blank is not None:
            slope = -math.fsum(100 / one.dish.sample_g for one in of_run) / len(dishes)
            oven = of_run[0].dish.oven
            kind: Kind = "A" if math.isfinite(blank.df) else "B"
            yield Component(
                "blank dish", blank.u_g, slope, blank.df, kind, "blank dish",
                shared=f"blank of {oven} {run}".strip(), pool=f"blanks of {oven}",
            )  # fmt: skip


def _not_quite_dry(dishes: Sequence[DishStrength]) -> Iterator[Component]:
    """What the last weighing still changed could change once more, either way: a rectangle of that half width."""
    change = math.fsum(100 * abs(one.dish.last_change_g) / one.dish.sample_g for one in dishes) / len(dishes)
    yield Component("constant mass", change / RECTANGLE, 1.0, math.inf, "B", "constant mass")


def _left_out(dishes: Sequence[DishStrength], scatter: DishScatter | None, settings: DryingSettings) -> list[str]:
    notes = []
    if scatter is None:
        notes.append("no brew has two dry dishes: scatter of dishes is not counted")
    elif scatter.of_oven:
        notes.append("scatter of dishes is that of the oven's other methods")
    if any(one.dish.resolution_g is None for one in dishes):
        notes.append("a weighing scale has no resolution: its display step is not counted")
    if any(one.blank is None for one in dishes):
        notes.append("no blank dish in the oven run: nothing is subtracted for the dish itself")
    if settings.volatile_loss_u_pct is None:
        notes.append(
            "no volatile_loss_u_pct under [drying] in lab.toml: what the oven drove off besides water is not counted"
        )
    elif settings.volatile_loss_u_pct == 0:
        notes.append(f"volatile loss is declared as {number(0.0, 0)} %")
    return notes
