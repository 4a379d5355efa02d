"""The panel's model against lmerTest and emmeans (tests/reference/panel_mixed), and ergoStool (check values 4.5)."""

from __future__ import annotations

import numpy as np
import polars as pl
import pytest

from analysis.sensory.panel.attribute import judge_attributes
from analysis.sensory.panel.discrimination import discrimination
from analysis.sensory.panel.model import PanelModel, fit_panel
from analysis.sensory.panel.order import OrderEffect, order_effect
from analysis.sensory.panel.request import PanelRequest
from analysis.sensory.panel.tidy import panel_rows

CLOSE, FINITE = 1e-5, 1e-3
NAMES = {
    "assessor": "assessor",
    "product by assessor": "assessor_product",
    "session": "session",
    "product by session": "product_session",
    "assessor by session": "assessor_session",
    "brew": "brew",
}


def _scores(frame, request=None):
    rows = panel_rows(frame, request or PanelRequest())
    return next(iter(rows.scores.values())), rows


def _invented(reference, name: str, *, shared: bool) -> pl.DataFrame:
    rows = pl.read_csv(reference / "panel_mixed" / f"{name}.csv")
    brew = {"brew_id": pl.format("b{}", "brew")} if "brew" in rows.columns else {}
    product = {"recipe_id" if shared else "coffee_id": pl.format("p{}", "product")}
    return rows.select(
        score="y",
        assessor=pl.format("a{}", "assessor"),
        attribute=pl.lit("body"),
        position=pl.col("position") if "position" in rows.columns else pl.lit(None),
        **brew,
        **product,
    )


def _agrees(model, expected, case):
    assert isinstance(model, PanelModel)
    fit = model.fit
    variances = expected(case, "variance")
    found = {NAMES[name]: variance for name, variance in fit.components.items()} | {"Residual": fit.sigma**2}
    assert found == pytest.approx(variances, rel=CLOSE)
    assert fit.criterion == pytest.approx(expected(case, "reml_criterion")[None], rel=1e-8)
    k = len(model.products)
    terms = [f"product{name}" for name in range(1, k + 1)]
    estimates, errors, dfs = (expected(case, quantity) for quantity in ("estimate", "std_error", "df"))
    for place, term in enumerate(terms):
        weights = model.mean(place)
        assert fit.value(weights) == pytest.approx(estimates[term], rel=CLOSE)
        assert fit.standard_error(weights) == pytest.approx(errors[term], rel=CLOSE)
        assert fit.df(weights) == pytest.approx(dfs[term], rel=FINITE)
    test = model.products_test()
    assert test.statistic == pytest.approx(expected(case, "f_statistic")["products"], rel=CLOSE)
    assert test.df_den == pytest.approx(expected(case, "f_df_den")["products"], rel=FINITE)
    assert test.p_value == pytest.approx(expected(case, "f_p_value")["products"], rel=FINITE)


@pytest.mark.parametrize("attribute", ["potato", "buttery", "grassy", "rancid", "painty"])
def test_real_panel_with_missing_cells_as_lmertest(fries, expected, attribute):
    scores, _ = _scores(fries, PanelRequest(attributes=(attribute,)))
    _agrees(fit_panel(scores), expected, f"fries_{attribute}")


def test_brews_of_a_recipe_that_all_share_are_random_as_in_lmertest(reference, expected):
    frame = _invented(reference, "shared_brews", shared=True).with_columns(coffee_id=pl.lit("c"))
    scores, rows = _scores(frame, PanelRequest(product="recipe"))
    assert not rows.own_shots
    _agrees(fit_panel(scores), expected, "shared_brews")


def test_another_shot_for_every_palate_is_recognised_and_its_shots_are_random(reference, expected):
    scores, rows = _scores(_invented(reference, "own_shots", shared=False))
    assert rows.own_shots
    assert rows.kind == "coffee"
    assert "Every palate got another brew" in rows.product_said
    _agrees(fit_panel(scores), expected, "own_shots")


def test_shots_tasted_again_are_one_mean_when_one_assessor_is_asked(reference):
    rows = pl.read_csv(reference / "panel_mixed" / "own_shots.csv").filter(assessor=3)
    means = rows.group_by("product", "brew").agg(pl.col("y").mean())
    scores, _ = _scores(_invented(reference, "own_shots", shared=False))

    found = discrimination(scores, 2)

    # One-way analysis of variance of the shots' means, written out.
    grand = means["y"].mean()
    of = [group["y"].to_numpy() for _, group in means.group_by("product", maintain_order=True)]
    between = sum(one.size * (one.mean() - grand) ** 2 for one in of) / 2
    within = sum(float(((one - one.mean()) ** 2).sum()) for one in of) / 3
    assert found is not None
    assert found.df_den == 3
    assert found.statistic == pytest.approx(between / within)


def test_the_first_cup_and_the_drift_as_lmertest(reference, expected):
    scores, _ = _scores(_invented(reference, "order", shared=False))
    found = order_effect(scores)
    assert isinstance(found, OrderEffect)
    estimates = expected("order", "estimate")
    assert found.first == pytest.approx(estimates["first"], rel=CLOSE)
    assert found.per_place == pytest.approx(estimates["position"], rel=CLOSE)
    assert found.test.statistic == pytest.approx(expected("order", "f_statistic")["beside"], rel=CLOSE)
    assert found.test.df_den == pytest.approx(expected("order", "f_df_den")["beside"], rel=FINITE)
    assert found.test.p_value == pytest.approx(expected("order", "f_p_value")["beside"], rel=FINITE)


def test_pairs_as_emmeans(reference, expected):
    frame = _invented(reference, "shared_brews", shared=True).with_columns(coffee_id=pl.lit("c"))
    scores, rows = _scores(frame, PanelRequest(product="recipe"))
    (found,) = judge_attributes((scores,), rows.products, rng=np.random.default_rng(1))
    assert found.separates
    case = "shared_brews"
    numbers = {q: expected(case, f"pair_{q}") for q in ("estimate", "SE", "df", "lower.CL", "upper.CL", "p.value")}
    assert len(found.differences) == 6
    for pair in found.differences:
        # emmeans takes the earlier less the later.
        term = f"product{pair.against[1:]} - product{pair.product[1:]}"
        assert -pair.estimate == pytest.approx(numbers["estimate"][term], rel=CLOSE)
        assert pair.std_error == pytest.approx(numbers["SE"][term], rel=CLOSE)
        assert pair.df == pytest.approx(numbers["df"][term], rel=FINITE)
        assert -pair.high == pytest.approx(numbers["lower.CL"][term], abs=1e-3)
        assert -pair.low == pytest.approx(numbers["upper.CL"][term], abs=1e-3)
        assert pair.p_value == pytest.approx(numbers["p.value"][term], abs=1e-4)


def test_ergo_stool_to_the_printed_digits(ergo):
    scores, _ = _scores(ergo)
    model = fit_panel(scores)
    assert isinstance(model, PanelModel)
    fit = model.fit
    test = model.products_test()
    # Balanced, one score a cell: the F of fixed products on 3 and 24 degrees of freedom.
    assert test.statistic == pytest.approx(22.35564, abs=5e-6)
    assert (test.df_num, test.df_den) == (3, pytest.approx(24, rel=1e-6))
    assert test.p_value == pytest.approx(3.93e-7, abs=5e-10)
    # The printed variances are an optimiser's: the closed form (66.5 / 8 - 29.055556 / 24) / 4 is 1.775462963.
    assert fit.components["assessor"] == pytest.approx(1.775462991, abs=2e-7)
    assert fit.sigma**2 == pytest.approx(1.210648143, abs=2e-7)
    assert [fit.components["assessor"] ** 0.5, fit.sigma] == pytest.approx([1.332465, 1.100295], abs=5e-7)
    assert fit.value(model.mean(0)) == pytest.approx(8.555556, abs=5e-7)
    effects = [fit.value(model.difference(k, 0)) for k in (1, 2, 3)]
    assert effects == pytest.approx([3.888889, 2.222222, 0.666667], abs=5e-7)
    assert fit.standard_error(model.mean(0)) == pytest.approx(0.576012, abs=5e-7)
    assert fit.standard_error(model.difference(1, 0)) == pytest.approx(0.518684, abs=5e-7)
    assert fit.criterion == pytest.approx(121.1307887, abs=5e-7)
