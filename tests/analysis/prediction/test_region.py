"""The region brewed: inside is what is a mean of settings brewed; outside is refused with the reason."""

from __future__ import annotations

import numpy as np
import polars as pl
import pytest
from scipy.optimize import linprog

from analysis.effects.rows import ChosenRows
from analysis.prediction.region import Region, brewed_region, check_inside, inside
from schemas.problem import ProblemError
from tests.reference.prediction.coverage import facts_of

GRIND, TEMP, RATIO = "grind_steps_finer", "water_temp_c", "beverage_ratio"


def _region(grind: list[float], temp: list[float], ratio: list[float] | None = None) -> Region:
    given = {GRIND: grind, TEMP: temp} | ({} if ratio is None else {RATIO: ratio})
    facts = facts_of({"coffee_id": ["c1"] * len(grind), **given}, len(grind))
    chosen = ChosenRows(facts, "espresso", len(grind), 0, {}, ())
    return brewed_region(chosen, tuple(given), None)


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_it_agrees_with_a_linear_programme(seed: int) -> None:
    rng = np.random.default_rng(seed)
    points = rng.normal(size=(25, 3)) * [1.2, 1.5, 0.2] + [0, 93, 2.1]
    region = _region(*(list(points[:, k]) for k in range(3)))
    asked = rng.normal(size=(60, 3)) * [1.5, 1.8, 0.25] + [0, 93, 2.1]

    found = inside(region, {GRIND: asked[:, 0], TEMP: asked[:, 1], RATIO: asked[:, 2]})

    table = np.vstack([points.T, np.ones(25)])
    exists = [linprog(np.zeros(25), A_eq=table, b_eq=np.append(one, 1.0), method="highs").status == 0 for one in asked]
    assert found.tolist() == exists
    assert 5 < sum(exists) < 55


def test_every_setting_brewed_is_inside() -> None:
    rng = np.random.default_rng(4)
    grind, temp = rng.normal(size=30), rng.normal(93, 2, size=30)

    assert inside(_region(list(grind), list(temp)), {GRIND: grind, TEMP: temp}).all()


def test_settings_on_a_line_have_an_inside_too() -> None:
    region = _region([-1.0, 0.0, 1.0], [92.0, 93.0, 94.0])

    found = inside(region, {GRIND: np.array([0.5, 0.5]), TEMP: np.array([93.5, 93.0])})

    assert found.tolist() == [True, False]


def test_a_setting_beyond_its_range_is_named_with_the_nearest_brews() -> None:
    region = _region([-1.0, 0.0, 1.0, 0.0], [92.0, 93.0, 93.0, 95.0])

    with pytest.raises(ProblemError, match=r"grind was brewed from -1 to 1 steps finer, and 3 was asked for") as found:
        check_inside(region, {GRIND: 3.0, TEMP: 93.0})

    assert "Nearest: b002 (grind 1 step finer, water temperature 93 C)" in str(found.value)


def test_settings_never_reached_together_are_named() -> None:
    region = _region([-2.0, -2.0, 0.0, 2.0, 0.0], [90.0, 96.0, 93.0, 90.0, 90.0])

    with pytest.raises(ProblemError) as found:
        check_inside(region, {GRIND: 1.5, TEMP: 95.0})

    assert "no brew has" in str(found.value)
    assert "grind +1.5 steps or finer" in str(found.value)
    assert "water temperature 95 C or more" in str(found.value)


def test_inside_says_nothing() -> None:
    check_inside(_region([-2.0, 2.0, 0.0], [90.0, 90.0, 96.0]), {GRIND: 0.0, TEMP: 92.0})


def test_the_region_of_a_dial_is_that_of_its_grinder() -> None:
    given = {
        "coffee_id": ["c1"] * 6,
        GRIND: [0.0, 1.0, 2.0, -3.0, -1.0, 3.0],
        TEMP: [92.0, 93.0, 94.0, 92.0, 94.0, 93.0],
        "grinder_id": ["g1"] * 3 + ["g2"] * 3,
    }
    chosen = ChosenRows(facts_of(given, 6), "espresso", 6, 0, {}, ("g1", "g2"))
    region = brewed_region(chosen, (GRIND, TEMP), "g1")

    assert region.brews["grinder_id"].unique().to_list() == ["g1"]
    with pytest.raises(ProblemError, match="from 0 to 2 steps finer on g1, and 3 was asked for"):
        check_inside(region, {GRIND: 3.0, TEMP: 93.0})
    assert isinstance(region.brews, pl.DataFrame)
