"""What must be known beside a prediction: whom it speaks for, what it rests on, where it is thin."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import polars as pl

from analysis.effects.factors import DIAL, FACTORS
from analysis.effects.structure import ENOUGH_COFFEES
from analysis.prediction.model import COFFEE
from analysis.prediction.models import RecipeModels
from analysis.prediction.region import NEAR
from analysis.prediction.request import WORD
from analysis.prediction.result import Expected
from analysis.words import count, listed, number

ENOUGH_FOR_NEW = 12
"""With fewer coffees the interval of a new one's chance holds the truth less often than it says."""
FEW_OWN = 3
WEIGHED_RATIOS = ("beverage_ratio", "beverage_g")


def scope_said(models: RecipeModels) -> str:
    """Whom the intervals speak for."""
    return "for a new coffee like these" if models.coffee is None else "for this coffee"


def model_said(models: RecipeModels) -> str:
    """The two models in words."""
    said = []
    for model in models.models:
        names = [part.name for part in model.parts]
        levels = [name for name in names if name not in model.slopes.values()]
        slopes = [name for name in names if name in model.slopes.values()]
        own = [f"levels of {listed(levels)}"] if levels else []
        own += [f"slopes of {listed(slopes)}"] if slopes else []
        how = f"mixed model (REML), {' and '.join(own)} at random" if own else "least squares"
        said.append(f"{WORD[model.response]}: {how}")
    method = (
        "prediction error variance from the mixed-model equations; Satterthwaite degrees of freedom of the whole "
        "variance, an approximation"
    )
    return "; ".join([*said, method])


def make_cautions(
    models: RecipeModels, settings: Mapping[str, float], expected: tuple[Expected, Expected]
) -> tuple[str, ...]:
    """All that apply, in sentences."""
    return (
        *_about_coffees(models, settings),
        *_about_coverage(models),
        *_about_balance(models, settings, expected),
        *_about_ties(models),
        *(f"{note} It is left out of a recipe's brews." if "drifts" in note else note for note in _order_notes(models)),
        *_about_settings(models),
        *_about_channeling(models),
        "An error common to all readings is not in these intervals.",
    )


def _order_notes(models: RecipeModels) -> list[str]:
    return [note for model in models.models for note in model.notes]


def _about_coffees(models: RecipeModels, settings: Mapping[str, float]) -> list[str]:
    brews, notes = models.brews, []
    coffees = brews["coffee_id"].n_unique()
    flat = [WORD[model.response] for model in models.models if all(part.name != COFFEE for part in model.parts)]
    if flat and coffees > 1:
        notes.append(
            f"No spread between coffees was seen in {listed(flat)}, so every coffee is expected "
            "at the same level there."
        )
    if models.coffee is None:
        return notes
    own = brews.filter(pl.col("coffee_id") == models.coffee)
    if own.height < FEW_OWN and coffees > 1:
        notes.append(
            f"Coffee {models.coffee} has only {count(own.height, 'brew')}, so most of its level is "
            "borrowed from the others."
        )
    if models.grinder is not None and own.filter(pl.col("grinder_id") == models.grinder).is_empty():
        return [
            *notes,
            f"Coffee {models.coffee} was never brewed on {models.grinder}: there it rests on how the other coffees "
            "answered.",
        ]
    beyond = [FACTORS[name].noun for name, value in settings.items() if _outside(own, name, value, models)]
    if beyond and coffees > 1:
        notes.append(
            f"Coffee {models.coffee} itself was not brewed at that {listed(beyond)}: there it rests on "
            "how the other coffees answered."
        )
    return notes


def _about_coverage(models: RecipeModels) -> list[str]:
    """How often such intervals held the truth where it was known: tests/reference/prediction/coverage.csv."""
    coffees = models.brews["coffee_id"].n_unique()
    if coffees == 1:
        return []
    if models.coffee is None:
        if coffees >= ENOUGH_FOR_NEW:
            return []
        return [
            f"{count(coffees, 'coffee')} say little of how far another would differ: in simulated campaigns the "
            "interval of a new coffee's chance held the truth in 90 to 94 of 100, and the chance told was up to 5 "
            "points low."
        ]
    if coffees < ENOUGH_COFFEES:
        return [
            f"{count(coffees, 'coffee')} are taken to answer a change alike: where coffees answer differently, the "
            "interval of the mean held the truth in 87 to 93 of 100 simulated campaigns, that of the chance in "
            "86 to 90."
        ]
    return [
        "Where coffees answer a change differently, such intervals for one coffee held the truth in 92 to 96 of 100 "
        "simulated campaigns."
    ]


def _outside(own: pl.DataFrame, name: str, value: float, models: RecipeModels) -> bool:
    rows = own if models.grinder is None or name != DIAL else own.filter(pl.col("grinder_id") == models.grinder)
    values = rows[name].cast(pl.Float64).to_numpy()
    slack = NEAR * models.region.width[models.region.factors.index(name)]
    return not (values.size and values.min() - slack <= value <= values.max() + slack)


def _about_balance(
    models: RecipeModels, settings: Mapping[str, float], expected: tuple[Expected, Expected]
) -> list[str]:
    """Percolation: yield is strength times beverage ratio, so the two models must agree to within their intervals."""
    balances = models.brews["balance_used"].unique().to_list()
    if balances == ["immersion"]:
        return [
            "Yield and strength are tied by the mass balance: in immersion the yield follows from strength and water "
            "ratio."
        ]
    if balances != ["percolation"]:
        return []
    ratio = settings.get("beverage_ratio")
    said = "Yield and strength are tied by the mass balance: in percolation yield is strength times beverage ratio"
    if ratio is None:
        return [f"{said}; the ratio is not among the factors here, so it scatters as it did in these brews."]
    brews = models.brews
    product = (brews["cup_tds_pct"] * brews["beverage_ratio"] / brews["extraction_yield_pct"]).drop_nulls().to_numpy()
    if product.size == 0 or np.max(np.abs(product - 1)) > 0.01:
        return [f"{said} before bypass."]
    implied = expected[1].value * ratio
    gap = implied - expected[0].value
    half = (expected[0].high - expected[0].low) / 2
    if abs(gap) > half / 2:
        return [
            f"{said}, and here the two models disagree: {number(expected[1].value, 2)} % times {ratio:.3g} is "
            f"{number(implied, 1)} %, against a yield of {number(expected[0].value, 1)} %. A curve may be missing: "
            "--curve beverage_ratio."
        ]
    return [f"{said}."]


def _about_ties(models: RecipeModels) -> list[str]:
    if not models.tied.pulled:
        return []
    return [
        f"The covariance of yield and strength ({listed(models.tied.pulled)}) came out beyond what their variances "
        "allow and was brought back to it."
    ]


def _about_settings(models: RecipeModels) -> list[str]:
    weighed = [FACTORS[name].noun for name in models.region.factors if name in WEIGHED_RATIOS]
    if not weighed:
        return []
    return [f"The {listed(weighed)} counts as met: a brew that misses it lands elsewhere."]


def _about_channeling(models: RecipeModels) -> list[str]:
    """Brews of a recipe channel as often as those it was learned from; that is in what is expected of them."""
    if "channeled" in models.region.factors:
        return []
    n = int(models.brews["channeled"].fill_null(value=False).sum())
    if not n:
        return []
    return [
        f"{count(n, 'brew')} of these channeled and count as they stand: the ranges are for "
        "brews that channel as often."
    ]
