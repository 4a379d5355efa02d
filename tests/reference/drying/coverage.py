"""How often the 95 % interval of a strength by drying holds the truth: 4,000 made-up oven runs a case.

Run from the top of the project as `python -m tests.reference.drying.coverage`; it writes coverage.csv beside itself.
Every run draws the weighing scale's calibration, the volatile loss and the true strengths anew, weighs with real
rounding of tare and load, and dries to a remainder that the criterion lets pass. Seeds were fixed
before the first look.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np

from analysis.measurement.component import combine
from analysis.measurement.drying_budget import lines_of
from analysis.measurement.drying_dishes import Dish
from analysis.measurement.drying_scatter import dish_scatter
from analysis.measurement.drying_strength import blank_dish, blank_scatter, dish_strength
from schemas.lab import DryingSettings

RUNS = 4000
TABLE = Path(__file__).with_name("coverage.csv")


@dataclass(frozen=True)
class Case:
    """`brews` brews with `dishes` dishes each; `scatter` is a dish's own, as a share of the strength.

    Without `constant_mass` the interval leaves that line out: what it alone makes of a coverage.
    """

    name: str
    seed: int
    brews: int
    dishes: int
    step_g: float
    scale_u_g: float
    scatter: float
    loss_u_pct: float
    strong: bool = False
    constant_mass: bool = True


CASES = (
    Case("8 filter brews, 2 dishes, fine scale", 2101, 8, 2, 0.0001, 0.0001, 0.01, 0.5),
    Case("1 filter brew, 3 dishes, fine scale", 2102, 1, 3, 0.0001, 0.0001, 0.01, 0.5),
    Case("8 filter brews, 2 dishes, coarse scale", 2103, 8, 2, 0.001, 0.0005, 0.005, 0.5),
    Case("the same, without the line for constant mass", 2103, 8, 2, 0.001, 0.0005, 0.005, 0.5, constant_mass=False),
    Case("6 espressos, 2 dishes, fine scale", 2104, 6, 2, 0.0001, 0.0001, 0.004, 0.3, strong=True),
)


def shown(mass_g: float, step_g: float, rng: np.random.Generator) -> float:
    """A mass as shown: tare and load are rounded each, and the tare stands anywhere between two steps."""
    place = rng.uniform(0, 1) * step_g
    return float((np.round((mass_g + place) / step_g) - np.round(place / step_g)) * step_g)


def run(case: Case, rng: np.random.Generator) -> bool:
    """One oven run; whether the interval of its first brew holds that brew's true strength."""
    residue_off, sample_off = rng.normal(0, case.scale_u_g, 2)
    loss = rng.normal(0, case.loss_u_pct / 100)
    gain_g = rng.normal(0.0002, 0.0001)
    blanks = [_dish("", number, case, 30.0, 0.0, [30.0 + gain_g], rng, 0.0, 0.0) for number in (1, 2)]
    blank = blank_dish(blanks, blank_scatter([blanks]))
    truth, dried = [], {}
    for brew in range(case.brews):
        true_pct = rng.uniform(8, 12) if case.strong else rng.uniform(1.15, 1.45)
        truth.append(true_pct)
        found = []
        for number in range(1, case.dishes + 1):
            sample_g, empty_g = rng.normal(5, 0.1), rng.uniform(28, 34)
            left_g = sample_g * true_pct / 100 * (1 + loss) * (1 + rng.normal(0, case.scatter)) + gain_g
            wet_g = left_g * rng.uniform(0, 0.006)
            weighings = [empty_g + left_g + wet_g, empty_g + left_g + 0.3 * wet_g]
            dish = _dish(str(brew), number, case, empty_g, sample_g, weighings, rng, residue_off, sample_off)
            found.append(dish_strength(dish, blank, left_g=dish.residue_g))
        dried[str(brew), "oven"] = found
    scatter = dish_scatter(dried, {str(brew): "pour_over" for brew in range(case.brews)})["oven", "pour_over"]
    first = dried["0", "oven"]
    value = sum(one.tds_pct for one in first) / len(first)
    lines, _ = lines_of(first, value, scatter, DryingSettings(volatile_loss_u_pct=case.loss_u_pct))
    counted = [line for line in lines or () if case.constant_mass or line.name != "constant mass"]
    budget = combine(value, counted, unit="%")
    return budget.low <= truth[0] <= budget.high


def _dish(
    brew_id: str,
    number: int,
    case: Case,
    empty_g: float,
    sample_g: float,
    weighings: list[float],
    rng: np.random.Generator,
    residue_off: float,
    sample_off: float,
) -> Dish:
    empty_shown = shown(empty_g, case.step_g, rng)
    full_shown = shown(empty_g + sample_g + sample_off, case.step_g, rng)
    after = tuple(shown(mass_g + residue_off, case.step_g, rng) for mass_g in weighings)
    return Dish(
        brew_id=brew_id, oven="oven", drying_id="r", sample_no=1, replicate=number, is_blank=not brew_id, scale="fine",
        scale_u_g=case.scale_u_g, resolution_g=case.step_g, dish_g=empty_shown,
        sample_g=full_shown - empty_shown if brew_id else 0.0, weighings=after, dried_at=None, temp_c=None,
    )  # fmt: skip


def coverage(case: Case) -> float:
    """Share of runs whose interval holds the truth."""
    rng = np.random.default_rng(case.seed)
    return sum(run(case, rng) for _ in range(RUNS)) / RUNS


def main() -> None:
    """Write the table."""
    rows = [f'"{case.name}",{case.seed},{coverage(case):.4f}' for case in CASES]
    TABLE.write_text("\n".join(["case,seed,coverage", *rows]) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
