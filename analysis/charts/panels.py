"""One panel per method, and per mass balance where a method was brewed on both."""

from __future__ import annotations

from dataclasses import dataclass

import polars as pl

from analysis import words
from schemas.methods import BALANCE_OF_METHOD, METHODS, MassBalance

HOT_DRIP_METHODS = ("pour_over", "batch_brew")


@dataclass(frozen=True, slots=True)
class Panel:
    """Brews of one method on one mass balance; `key` names it in the page's data."""

    key: str
    method: str
    balance: MassBalance
    title: str
    n_brews: int

    @property
    def is_hot_drip(self) -> bool:
        """Whether the published box for hot drip coffee applies."""
        return self.method in HOT_DRIP_METHODS and self.balance == "percolation"


def with_panel(facts: pl.DataFrame) -> pl.DataFrame:
    """Facts with `balance` (the one applied, else the method's own) and `panel` (method, or method and balance)."""
    by_method = pl.col("method").replace_strict(BALANCE_OF_METHOD, default="percolation", return_dtype=pl.String)
    balance = pl.coalesce("balance_used", "mass_balance", by_method).alias("balance")
    several = pl.col("balance").n_unique().over("method") > 1
    key = pl.when(several).then(pl.concat_str("method", pl.lit(":"), "balance")).otherwise("method").alias("panel")
    return facts.with_columns(balance).with_columns(key)


def panels(frame: pl.DataFrame) -> tuple[Panel, ...]:
    """Panels of a frame made by `with_panel`: most brewed first, then in the order of the method list."""
    counted = frame.group_by("panel", "method", "balance").agg(pl.len().alias("n")).iter_rows(named=True)
    rows = sorted(counted, key=lambda row: (-row["n"], METHODS.index(row["method"]), row["balance"]))
    return tuple(
        Panel(
            row["panel"], row["method"], row["balance"], _title(row["panel"], row["method"], row["balance"]), row["n"]
        )
        for row in rows
    )


def _title(key: str, method: str, balance: str) -> str:
    name = words.capital(words.method_word(method))
    return name if key == method else f"{name}, {balance}"
