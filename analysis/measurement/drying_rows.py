"""Hard rules of one weighing of a dried dish: what is left weighs something, and no more than what was poured in."""

from __future__ import annotations

import polars as pl

from analysis.physics import ROUNDING, plain
from schemas.contracts.dryings import DRYINGS
from schemas.reports import REASON_SCHEMA
from schemas.rules import RULES

DIGITS = 6
IS_BLANK = pl.col("is_blank").fill_null(False)
NOT_ABOVE_DISH = (~IS_BLANK & (pl.col("dish_plus_dry_g") <= pl.col("dish_g"))).fill_null(False)
ABOVE_SAMPLE = (pl.col("dish_plus_dry_g") > pl.col("dish_plus_sample_g") * (1 + ROUNDING)).fill_null(False)
NOBODYS = ~IS_BLANK & pl.col("brew_id").is_null()


def drying_reasons(dryings: pl.DataFrame) -> pl.DataFrame:
    """Why weighings must be set aside: columns of `REASON_SCHEMA`, one row per reason, by line.

    `dryings` has the contract's columns and `line`. A blank dish may weigh less after drying than before.
    """
    return pl.concat(
        [
            _reasons(dryings.filter(NOT_ABOVE_DISH), "dry_not_above_dish", limit="dish_g"),
            _reasons(dryings.filter(ABOVE_SAMPLE), "dry_above_sample", limit="dish_plus_sample_g"),
            _without_brew(dryings.filter(NOBODYS)),
        ]
    ).sort("line", "rule")


def _reasons(bad: pl.DataFrame, rule_name: str, *, limit: str) -> pl.DataFrame:
    rule = RULES[rule_name]
    rows = [
        (line, DRYINGS.name, "dish_plus_dry_g", value, rule.name, message, rule.fix)
        for line, dry_g, limit_g in bad.select("line", "dish_plus_dry_g", limit).iter_rows()
        for value in [plain(dry_g, DIGITS)]
        for message in [rule.message.format(value=value, limit=plain(limit_g, DIGITS))]
    ]
    return pl.DataFrame(rows, schema=REASON_SCHEMA, orient="row")


def _without_brew(bad: pl.DataFrame) -> pl.DataFrame:
    """Rows that say they are no blank dish, and name no brew either."""
    rule, column = RULES["empty_required"], "brew_id"
    message = rule.message.format(column=column, row=DRYINGS.row)
    fix = f"{rule.fix.format(column=column)} If this is a blank dish, write yes under is_blank."
    rows = [(line, DRYINGS.name, column, None, rule.name, message, fix) for line in bad["line"]]
    return pl.DataFrame(rows, schema=REASON_SCHEMA, orient="row")
