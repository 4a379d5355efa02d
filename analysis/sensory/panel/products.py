"""What counts as one product: the brew where the palates share it, the recipe or coffee where each gets another."""

from __future__ import annotations

from dataclasses import dataclass

import polars as pl

from analysis.sensory.panel.request import ProductKind
from analysis.words import count
from schemas.problem import ProblemError

PLURAL = {"brew": "brews", "recipe": "recipes", "coffee": "coffees"}


@dataclass(frozen=True)
class Products:
    """`frame` is the scores with `product`; `own_shots`: hardly any brew was tasted by two palates; `said` why."""

    frame: pl.DataFrame
    kind: ProductKind
    own_shots: bool
    said: str
    n_without: int


def name_products(scores: pl.DataFrame, asked: ProductKind | None) -> Products:
    """Scores (brew_id, coffee_id, recipe_id, served_as, assessor, ...) with their product; rows without one are left.

    Where most brews were tasted by one assessor only, brews differ by palate: then the product is the recipe or coffee
    and its brews are nested in it.
    """
    own_shots = _own_shots(scores)
    kind = asked or _kind(scores, own_shots)
    named = scores.with_columns(product=_name(scores, kind))
    kept = named.filter(pl.col("product").is_not_null())
    if kept.is_empty():
        raise ProblemError(
            f"None of the {count(scores.height, 'score')} names a {kind}, so no {PLURAL[kind]} can be told apart. "
            "Choose another --product, or complete the brews."
        )
    if own_shots and kind == "brew":
        raise ProblemError(
            "Every palate got another brew, so brews cannot be told from palates: compare recipes or coffees "
            "(--product recipe or --product coffee)."
        )
    return Products(kept, kind, own_shots, _said(kind, own_shots), named.height - kept.height)


def _own_shots(scores: pl.DataFrame) -> bool:
    """Whether more than half of the brews were tasted by one of several assessors."""
    brewed = scores.filter(pl.col("brew_id").is_not_null())
    if brewed["assessor"].n_unique() < 2:
        return False
    tasters = brewed.group_by("brew_id").agg(pl.col("assessor").n_unique())["assessor"]
    return bool(2 * int((tasters == 1).sum()) > tasters.len())


def _kind(scores: pl.DataFrame, own_shots: bool) -> ProductKind:
    if not own_shots and not scores["brew_id"].null_count():
        return "brew"
    recipes = scores["recipe_id"]
    return "recipe" if own_shots and not recipes.null_count() and recipes.n_unique() > 1 else "coffee"


def _name(scores: pl.DataFrame, kind: ProductKind) -> pl.Expr:
    """A recipe is that recipe on that coffee where there are several coffees; milk makes another product."""
    name = pl.col(f"{kind}_id")
    if kind == "recipe" and scores["coffee_id"].n_unique() > 1:
        name = pl.concat_str(name, pl.lit(" on "), pl.col("coffee_id"))
    if scores["served_as"].n_unique() > 1:
        milk = pl.when(pl.col("served_as") == "milk").then(pl.lit(" in milk")).otherwise(pl.lit(""))
        name = pl.concat_str(name, milk)
    return name


def _said(kind: ProductKind, own_shots: bool) -> str:
    if own_shots:
        return (
            f"Every palate got another brew, so the product is the {kind}; its brews count as repeats at random, and "
            "how far brews differ is part of every spread between and within assessors"
        )
    if kind == "brew":
        return "The palates shared each brew, so the product is the brew"
    return f"The product is the {kind}"
