"""Hard rules that need more than one cell: masses that cannot be, masses that are missing, yields beyond reason."""

from __future__ import annotations

import polars as pl

from analysis.facts.masses import with_bypass, with_extraction
from analysis.facts.strength import read_strength
from analysis.slip import likely_slip
from schemas.lab import LabSettings
from schemas.reports import REASON_SCHEMA
from schemas.rules import RULES

MAX_YIELD_PCT = 40.0
"""More of a dose than this cannot dissolve: above it a row or reading is set aside."""
UNDECLARED = LabSettings()
"""A lab without corrections or a Brix factor."""
ROUNDING = 1e-9
"""Relative slack, so that decimal masses whose float sum is a last digit short do not break a rule."""

IS_VOID = pl.col("void_reason").is_not_null()
WATER_AND_DOSE_G = (
    pl.col("water_g")
    + pl.col("dose_g")
    + pl.when(pl.col("bypass_included").fill_null(True)).then(pl.col("bypass_g").fill_null(0.0)).otherwise(0.0)
)
"""The most a percolation beverage can weigh; bypass counts unless it is said to be left out."""
EXCEEDS_WATER = (
    pl.col("balance_used").eq("percolation") & (pl.col("beverage_g") > WATER_AND_DOSE_G * (1 + ROUNDING))
).fill_null(False)
YIELD_TOO_HIGH = (pl.col("extraction_yield_pct") > MAX_YIELD_PCT * (1 + ROUNDING)).fill_null(False)
NEEDED_MASS = pl.col("balance_used").replace_strict(
    {"percolation": "beverage_g", "immersion": "water_g"}, default=None, return_dtype=pl.String
)
MISSING_MASS = (
    pl.when(pl.col("balance_used") == "percolation")
    .then(pl.col("beverage_g").is_null())
    .when(pl.col("balance_used") == "immersion")
    .then(pl.col("water_g").is_null())
    .otherwise(False)
)


def plain(value: float, digits: int = 3) -> str:
    """A number as a person would write it: no trailing zeros.

    >>> plain(36.0), plain(1.2345)
    ('36', '1.234')
    """
    return f"{value:.{digits}f}".rstrip("0").rstrip(".")


def beyond_words(yield_pct: float) -> str:
    """A yield over the limit with as many digits as show that it is.

    >>> beyond_words(50.0), beyond_words(40.02), beyond_words(float("inf"))
    ('50', '40.02', 'over 1000')
    """
    if yield_pct >= 1000:
        return "over 1000"
    digits = next(digits for digits in range(1, 10) if round(yield_pct, digits) > MAX_YIELD_PCT or digits == 9)
    return plain(yield_pct, digits)


def physics_reasons(brews: pl.DataFrame, strength: pl.DataFrame, *, settings: LabSettings = UNDECLARED) -> pl.DataFrame:
    """Why brews must be set aside: columns of `REASON_SCHEMA`, one row per reason, by line.

    `brews` has the contract's columns and `line`. `strength` holds the readings that came with them on one sheet
    (readings contract, with `line`; may be empty): a brew is set aside if any of them would give too high a yield.
    Void brews are passed over.
    """
    brews = with_bypass(brews.filter(~IS_VOID))
    readings = strength.drop("brew_id", strict=False)
    return pl.concat(
        [
            _missing(brews.filter(MISSING_MASS)),
            _exceeding(brews.filter(EXCEEDS_WATER)),
            _too_high(
                too_high(readings, brews, on="line", settings=settings).unique("line", keep="first"), table="brews"
            ),
        ]
    ).sort("line", "rule", maintain_order=True)


def reading_reasons(readings: pl.DataFrame, brews: pl.DataFrame, *, settings: LabSettings = UNDECLARED) -> pl.DataFrame:
    """Why separate readings must be set aside: those that would give a yield over 40 %; columns of `REASON_SCHEMA`.

    `readings` has the contract's columns and `line`; `brews` the contract's columns of (at least) the brews they name.
    Readings of void brews are passed over.
    """
    brews = brews.filter(~IS_VOID).drop("line", strict=False)
    return _too_high(too_high(readings, brews, on="brew_id", settings=settings), table="readings").sort("line")


def too_high(readings: pl.DataFrame, brews: pl.DataFrame, *, on: str, settings: LabSettings) -> pl.DataFrame:
    """Readings that alone would give their brew a yield over 40 %, by line, the highest first.

    Columns `line`, `extraction_yield_pct` (infinite where the undiluted strength would reach 100 %), and what made it:
    `method`, `dose_g`, `mass_column` (the mass that the balance needs), `mass_g` and `strength_pct`.
    """
    said = read_strength(readings, settings).filter(pl.col("strength_pct").is_not_null())
    joined = brews.join(
        said.select(*dict.fromkeys(("line", on)), pl.col("strength_pct").alias("tds_pct")), on=on, how="inner"
    )
    computed = with_extraction(joined.with_columns(moisture_pct=pl.lit(None, pl.Float64)))
    impossible = pl.col("tds_pct") * (pl.col("before_bypass_g") + pl.col("bypass_0_g")) >= 100 * pl.col(
        "before_bypass_g"
    )
    reached = (pl.col("read_after") == 1) & impossible
    return (
        computed.with_columns(
            extraction_yield_pct=pl.when(reached).then(float("inf")).otherwise("extraction_yield_pct")
        )
        .filter(YIELD_TOO_HIGH)
        .select(
            "line",
            "extraction_yield_pct",
            "method",
            "dose_g",
            mass_column=NEEDED_MASS,
            mass_g=pl.when(pl.col("balance_used") == "percolation").then("beverage_g").otherwise("water_g"),
            strength_pct="tds_pct",
        )
        .sort("line", "extraction_yield_pct", descending=[False, True])
    )


def _missing(brews: pl.DataFrame) -> pl.DataFrame:
    rule = RULES["missing_mass"]
    rows = [
        (
            line,
            "brews",
            column,
            None,
            rule.name,
            rule.message.format(column=column, balance=balance),
            _fix(rule.fix, column),
        )
        for line, column, balance in brews.select("line", NEEDED_MASS.alias("needed"), "balance_used").iter_rows()
    ]
    return pl.DataFrame(rows, schema=REASON_SCHEMA, orient="row")


def _fix(template: str, column: str) -> str:
    return template.format(column=column)


def _exceeding(brews: pl.DataFrame) -> pl.DataFrame:
    rule = RULES["beverage_exceeds_water"]
    rows = [
        (line, "brews", "beverage_g", plain(beverage), rule.name, message, rule.fix)
        for line, beverage, limit in brews.select("line", "beverage_g", WATER_AND_DOSE_G).iter_rows()
        for message in [rule.message.format(value=plain(beverage), limit=plain(limit))]
    ]
    return pl.DataFrame(rows, schema=REASON_SCHEMA, orient="row")


def _too_high(found: pl.DataFrame, *, table: str) -> pl.DataFrame:
    """One reason a reading, at the likely slip; separate readings are set aside themselves, so at their strength."""
    rule = RULES["yield_too_high"]
    rows = []
    for line, yield_pct, method, dose_g, mass_column, mass_g, strength_pct in found.iter_rows():
        slip = likely_slip(
            method=method, dose_g=dose_g, mass_column=mass_column, mass_g=mass_g, strength_pct=strength_pct
        )
        column, value = (slip.column, slip.value) if table == "brews" else ("tds_pct", strength_pct)
        message = rule.message.format(value=beyond_words(yield_pct), limit=plain(MAX_YIELD_PCT))
        rows.append((line, table, column, plain(value), rule.name, f"{message} {slip.sentence}".strip(), rule.fix))
    return pl.DataFrame(rows, schema=REASON_SCHEMA, orient="row")
