"""Which target applies to each brew on its day, and whether the brew met it."""

from __future__ import annotations

import polars as pl

VALUE_OF_QUANTITY = {
    "tds_pct": "cup_tds_pct",
    "extraction_yield_pct": "extraction_yield_pct",
    "beverage_g": "beverage_g",
    "brew_time_s": "brew_time_s",
    "water_ratio": "water_ratio",
    "beverage_ratio": "beverage_ratio",
}
"""The fact that a target's quantity is held against: strength as served in the cup."""
CUP = ("tds_pct", "extraction_yield_pct")
RECIPE = ("beverage_g", "brew_time_s", "water_ratio", "beverage_ratio")
RANK = {"coffee_id": 8, "method": 4, "recipe_id": 1, "site": 1}
"""Coffee outranks method, either outranks recipe and site together, which only narrow further."""
ROUNDING = 1e-9
"""Bounds are included: a ratio a last float digit beyond one still meets it."""


def with_targets(facts: pl.DataFrame, targets: pl.DataFrame) -> pl.DataFrame:
    """Facts with in_target_recipe, in_target_cup and in_target.

    Per quantity the most specific targets valid on `brewed_on` apply, all of them if equally specific. A verdict is
    false once a known value is out, true when all hold, null when none applies or a value is missing, null for void.
    """
    facts = facts.with_columns(case=pl.struct(*RANK, "brewed_on").rank("dense"))
    cases = facts.select("case", *RANK, "brewed_on").unique("case")
    bounds = _most_specific(_applying(cases, targets))
    for quantity in VALUE_OF_QUANTITY:
        of_quantity = bounds.filter(pl.col("quantity") == quantity).select(
            "case", pl.col("low").alias(f"{quantity}_low"), pl.col("high").alias(f"{quantity}_high")
        )
        facts = facts.join(of_quantity, on="case", how="left", maintain_order="left")
    not_void = ~pl.col("is_void")
    helpers = [f"{quantity}_{end}" for quantity in VALUE_OF_QUANTITY for end in ("low", "high")]
    return facts.with_columns(
        in_target_recipe=pl.when(not_void).then(_verdict(RECIPE)),
        in_target_cup=pl.when(not_void).then(_verdict(CUP)),
        in_target=pl.when(not_void).then(_verdict((*RECIPE, *CUP))),
    ).drop(*helpers, "case")


def _applying(cases: pl.DataFrame, targets: pl.DataFrame) -> pl.DataFrame:
    """Every (case, quantity, rank, low, high) where a target's filled-in columns fit and its dates hold."""
    ranked = targets.with_columns(
        rank=pl.sum_horizontal(
            pl.when(pl.col(name).is_not_null()).then(weight).otherwise(0) for name, weight in RANK.items()
        )
    )
    names = ["quantity", "rank", "low", "high", "valid_from", "valid_to"]
    found = [
        _fitting(cases, group.select(*names, *filled), filled)
        for key, group in ranked.group_by(
            [pl.col(name).is_not_null().alias(f"has_{name}") for name in RANK], maintain_order=True
        )
        for filled in [[name for name, has in zip(RANK, key, strict=True) if has]]
    ]
    schema = {"case": cases.schema["case"], **{name: ranked.schema[name] for name in names}}
    joined = pl.concat(found) if found else pl.DataFrame(schema=schema)
    day = pl.col("brewed_on")
    held_from = pl.col("valid_from").is_null() | (pl.col("valid_from") <= day)
    held_to = pl.col("valid_to").is_null() | (pl.col("valid_to") >= day)
    return joined.filter(held_from & held_to) if found else joined


def _fitting(cases: pl.DataFrame, group: pl.DataFrame, filled: list[str]) -> pl.DataFrame:
    """Cases joined with targets that fill in exactly these columns."""
    joined = cases.join(group, on=filled, how="inner") if filled else cases.join(group, how="cross")
    return joined.select("case", "brewed_on", "quantity", "rank", "low", "high", "valid_from", "valid_to")


def _most_specific(applying: pl.DataFrame) -> pl.DataFrame:
    """Per case and quantity the bounds of its most specific targets; where several hold, their overlap."""
    best = pl.col("rank") == pl.col("rank").max().over("case", "quantity")
    return applying.filter(best).group_by("case", "quantity").agg(pl.col("low").max(), pl.col("high").min())


def _verdict(quantities: tuple[str, ...]) -> pl.Expr:
    applies = [pl.col(f"{quantity}_low").is_not_null() for quantity in quantities]
    met = [
        pl.when(applies_here).then(_within(quantity)).otherwise(True)
        for quantity, applies_here in zip(quantities, applies, strict=True)
    ]
    return pl.when(pl.any_horizontal(applies)).then(pl.all_horizontal(met))


def _within(quantity: str) -> pl.Expr:
    value, low, high = (pl.col(name) for name in (VALUE_OF_QUANTITY[quantity], f"{quantity}_low", f"{quantity}_high"))
    return (value >= low - low.abs() * ROUNDING) & (value <= high + high.abs() * ROUNDING)
