"""One attribute of a panel: do its products differ, by how much, and do the assessors rank alike."""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import combinations

import numpy as np

from analysis.comparisons.simultaneous import tukey
from analysis.mixed.arrays import Floats, NoFit
from analysis.mixed.fit import FTest
from analysis.multiple import holm
from analysis.sensory.panel.linear import cell_means
from analysis.sensory.panel.model import PanelModel, fit_panel
from analysis.sensory.panel.order import OrderEffect, order_effect
from analysis.sensory.panel.ranks import RankTest, cochran_q, friedman
from analysis.sensory.panel.spread import SpreadPart, spread_parts
from analysis.sensory.panel.tidy import Scores

LEVEL = 0.05
MOST_PRODUCTS = 12
"""With more products there are more pairs than anybody reads: then only means are given."""


@dataclass(frozen=True, slots=True)
class ProductMean:
    """Plain `mean` of `n_scores`, and the model's `estimate` with its 95 % interval for assessors like these."""

    product: str
    n_scores: int
    mean: float
    estimate: float | None
    low: float | None
    high: float | None


@dataclass(frozen=True, slots=True)
class ProductDifference:
    """`product` less `against` in score units; ends and p allow for all pairs (Tukey, Kramer)."""

    product: str
    against: str
    estimate: float
    std_error: float
    df: float
    low: float
    high: float
    p_value: float


@dataclass(frozen=True)
class AttributeResult:
    """What one attribute shows. `refused` says why there is no `test`; `p_adjusted` allows for all attributes (Holm).

    `spread` tells where it lies, the residual part as "repeats"; `differences` are there where the attribute separates
    the products, `shows` the smallest difference of a pair that would have. `n_not_ranked` assessors lack a product.
    `order_p` is adjusted as `p_adjusted`; `order` is words where it could not be asked.
    """

    attribute: str
    kind: str
    is_yes_no: bool
    n_scores: int
    n_assessors: int
    test: FTest | None
    p_adjusted: float | None
    refused: str
    means: tuple[ProductMean, ...]
    differences: tuple[ProductDifference, ...]
    shows: float | None
    spread: tuple[SpreadPart, ...]
    model: str
    ranks: RankTest | None
    n_not_ranked: int
    order: OrderEffect | NoFit
    order_p: float | None

    @property
    def separates(self) -> bool:
        """Whether the products differ in this attribute, allowing for the number of attributes asked about."""
        return self.p_adjusted is not None and self.p_adjusted < LEVEL


def judge_attributes(
    scores: tuple[Scores, ...], products: tuple[str, ...], *, rng: np.random.Generator
) -> tuple[AttributeResult, ...]:
    """All attributes of one family of questions, in order; `rng` draws arrangements where ranks are many."""
    fits = [_yes_no(one) if one.is_yes_no else fit_panel(one) for one in scores]
    found = [_judge(one, fit, products, rng) for one, fit in zip(scores, fits, strict=True)]
    p_values = holm([_p(one) for one in found])
    orders = holm([one.order.test.p_value if isinstance(one.order, OrderEffect) else np.nan for one in found])
    results = []
    for one, fit, p, order_p in zip(found, fits, p_values, orders, strict=True):
        adjusted = replace(one, p_adjusted=_number(p), order_p=_number(order_p))
        if adjusted.separates and isinstance(fit, PanelModel) and len(fit.products) <= MOST_PRODUCTS:
            adjusted = replace(adjusted, differences=_differences(fit, products))
        results.append(adjusted)
    return tuple(results)


def _yes_no(scores: Scores) -> NoFit:
    return NoFit("it is yes or no, so it is judged by Cochran's Q and not by a model of means")


def _p(result: AttributeResult) -> float:
    """The p of the products' test: F, or that of ranks for yes or no."""
    if result.test is not None:
        return result.test.p_value
    return result.ranks.p_value if result.is_yes_no and result.ranks is not None else float("nan")


def _number(value: float) -> float | None:
    return float(value) if np.isfinite(value) else None


def _judge(
    scores: Scores, fit: PanelModel | NoFit, products: tuple[str, ...], rng: np.random.Generator
) -> AttributeResult:
    model = fit if isinstance(fit, PanelModel) else None
    table, left = rank_table(scores)
    ranks = (cochran_q if bool(np.isin(table, (0.0, 1.0)).all()) else friedman)(table, rng=rng)
    return AttributeResult(
        attribute=scores.attribute,
        kind=scores.kind,
        is_yes_no=scores.is_yes_no,
        n_scores=scores.y.size,
        n_assessors=np.unique(scores.assessor).size,
        test=model.products_test() if model else None,
        p_adjusted=None,
        refused=fit.reason if isinstance(fit, NoFit) else "",
        means=_means(scores, model, products),
        differences=(),
        shows=_shows(model) if model else None,
        spread=spread_parts(model.fit) if model else (),
        model=model.words if model else "",
        ranks=ranks,
        n_not_ranked=left,
        order=order_effect(scores) if model else NoFit("there is no model of this attribute"),
        order_p=None,
    )


def rank_table(scores: Scores) -> tuple[Floats, int]:
    """Means (n, k) of each assessor by product, those who scored every product; and how many assessors are left out."""
    means, (who, which) = cell_means(scores.y, scores.assessor, scores.product)
    k = np.unique(scores.product).size
    full = [code for code in np.unique(who) if np.sum(who == code) == k]
    rows = [means[who == code][np.argsort(which[who == code])] for code in full]
    return np.array(rows).reshape(len(full), k), int(np.unique(who).size - len(full))


def _means(scores: Scores, model: PanelModel | None, products: tuple[str, ...]) -> tuple[ProductMean, ...]:
    found = []
    for place, code in enumerate(np.unique(scores.product)):
        own = scores.y[scores.product == code]
        value = low = high = None
        if model is not None:
            weights = model.mean(place)
            value, reach = model.fit.value(weights), model.fit.half_width(weights)
            low, high = value - reach, value + reach
        found.append(ProductMean(products[code], own.size, float(own.mean()), value, low, high))
    return tuple(found)


def _differences(model: PanelModel, products: tuple[str, ...]) -> tuple[ProductDifference, ...]:
    pairs = [(second, first) for first, second in combinations(range(len(model.products)), 2)]
    contrasts = [model.difference(*pair) for pair in pairs]
    values = [model.fit.value(row) for row in contrasts]
    errors = [model.fit.standard_error(row) for row in contrasts]
    df = [model.fit.df(row) for row in contrasts]
    t = [value / error for value, error in zip(values, errors, strict=True)]
    adjusted = tukey(t, df, n_means=len(model.products))
    return tuple(
        ProductDifference(
            product=products[model.products[pair[0]]],
            against=products[model.products[pair[1]]],
            estimate=value,
            std_error=error,
            df=own,
            low=value - one.reach * error,
            high=value + one.reach * error,
            p_value=one.p_value,
        )
        for pair, value, error, own, one in zip(pairs, values, errors, df, adjusted, strict=True)
    )


def _shows(model: PanelModel) -> float:
    """Half the interval of the least certain pair, allowing for all pairs: what differs more shows."""
    pairs = [model.difference(*pair) for pair in combinations(range(len(model.products)), 2)]
    widest = max(pairs, key=model.fit.standard_error)
    reach = tukey([0.0], [model.fit.df(widest)], n_means=len(model.products))[0].reach
    return reach * model.fit.standard_error(widest)
