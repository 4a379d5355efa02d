"""Contours: cells inside the region brewed only, and a chart that says what it shows."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.charts.effects.contours import contour_chart, contour_rows, shades
from analysis.charts.palette import luminance
from analysis.prediction.contours import make_contours
from analysis.prediction.models import fit_recipe_models, one
from analysis.prediction.region import inside
from analysis.prediction.request import PredictRequest, Window
from schemas.problem import ProblemError

HELD = {"beverage_ratio": 2.1}


@pytest.fixture(scope="module")
def models(recipes):
    return fit_recipe_models(recipes, PredictRequest(coffee="c1"))


@pytest.fixture(scope="module")
def contours(models):
    window = Window(19.0, 21.0, 9.0, 10.0)
    return make_contours(
        models, "grind_steps_finer", "water_temp_c", HELD, window=window, rng=np.random.default_rng(1), side=12
    )


def test_cells_lie_inside_the_region_and_those_outside_are_left_out(models, contours) -> None:
    cells = contours.cells
    settings = {
        "grind_steps_finer": cells["x"].to_numpy(),
        "water_temp_c": cells["y"].to_numpy(),
        "beverage_ratio": np.full(cells.height, 2.1),
    }
    assert inside(models.region, settings).all()
    assert 20 < cells.height < 144


def test_a_cell_tells_what_a_prediction_in_its_middle_tells(models, contours) -> None:
    row = contours.cells.row(7, named=True)
    recipe = {"grind_steps_finer": row["x"], "water_temp_c": row["y"], "beverage_ratio": 2.1}
    joint = models.joint(one(recipe))

    assert row["extraction_yield_pct"] == pytest.approx(joint.value[0][0])
    assert row["cup_tds_pct"] == pytest.approx(joint.value[1][0])
    assert row["x_start"] < row["x"] < row["x_end"]
    assert 0 <= row["chance"] <= 1


@pytest.mark.parametrize("quantity", ["extraction_yield_pct", "cup_tds_pct", "chance"])
def test_the_chart_draws_every_cell_and_describes_its_ends(contours, quantity) -> None:
    spec = contour_chart(contours, quantity).to_dict()

    assert len(contour_rows(contours, quantity)) == contours.cells.height
    assert "from 60 brews of 6 coffees, beverage ratio 2.1 g/g held" in spec["description"]
    assert "blank where nothing was brewed" in spec["description"]
    assert "Lowest" in spec["description"]
    assert "highest" in spec["description"]


def test_shades_darken_step_by_step_so_that_grey_keeps_their_order() -> None:
    found = [luminance(shade) for shade in shades()]
    assert found == sorted(found, reverse=True)
    assert len(set(found)) == len(found)


def test_without_a_window_there_is_no_chance(models) -> None:
    found = make_contours(models, "grind_steps_finer", "beverage_ratio", {"water_temp_c": 93.0},
                          rng=np.random.default_rng(1), side=6)  # fmt: skip
    assert found.cells["chance"].null_count() == found.cells.height
    assert contour_rows(found, "chance") == []


def test_two_different_factors_of_the_model_are_needed(models) -> None:
    rng = np.random.default_rng(1)
    with pytest.raises(ProblemError, match="two different factors"):
        make_contours(models, "water_temp_c", "water_temp_c", HELD, rng=rng)
    with pytest.raises(ProblemError, match="not a factor of this model"):
        make_contours(models, "dose_g", "water_temp_c", HELD, rng=rng)
