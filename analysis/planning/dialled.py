"""Grind of a plan as settings of one grinder's dial, counted from a reference that stays where it is."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

import polars as pl

from analysis.dial import read_setting, write_setting
from analysis.words import listed
from schemas.lab import GrindReference
from schemas.problem import ProblemError


@dataclass(frozen=True)
class Dial:
    """One grinder's dial: which way is finer, how it counts, and the zero of each coffee in units of its first part.

    `from_brews` names the coffees whose zero is the median of their brews so far and not yet declared.
    """

    grinder_id: str
    finer_is: str
    dial: str | None
    zeros: Mapping[str, float]
    from_brews: tuple[str, ...] = field(default=())

    def setting(self, coffee_id: str, steps_finer: float) -> str:
        """What to set the dial to, so many steps finer than the coffee's reference."""
        zero = self.zeros[coffee_id]
        at = zero + steps_finer if self.finer_is == "higher" else zero - steps_finer
        if at < 0:
            raise ProblemError(
                f"{steps_finer:g} steps finer than {write_setting(zero, self.dial)} is below the end of the dial of "
                f"{self.grinder_id}. Narrow the range of the grind."
            )
        return write_setting(at, self.dial)


def make_dial(
    grinder_id: str,
    *,
    finer_is: str | None,
    dial: str | None,
    coffees: Iterable[str],
    method: str,
    references: Iterable[GrindReference],
    facts: pl.DataFrame,
) -> Dial:
    """The dial with a zero for every coffee: the last of `references` that fits, else the median of its brews.

    ProblemError where the direction is unknown, a reference is no setting of this dial, or nothing says where zero is.
    """
    if finer_is is None:
        raise ProblemError(
            f"Which way is finer on grinder {grinder_id}? Write finer_is (lower or higher) into the grinders table and "
            "ingest it, then plan again."
        )
    wanted = tuple(coffees)
    declared = {r.coffee_id: r.grind_setting for r in references if (r.grinder_id, r.method) == (grinder_id, method)}
    zeros, from_brews = {}, []
    for coffee in wanted:
        if coffee in declared:
            zeros[coffee] = _number(declared[coffee], dial, grinder_id)
        elif (median := _median(facts, coffee, grinder_id, method)) is not None:
            zeros[coffee] = median
            from_brews.append(coffee)
    lacking = [coffee for coffee in wanted if coffee not in zeros]
    if lacking:
        raise ProblemError(
            f"Where is zero on grinder {grinder_id} for {listed(lacking)}? No brew there has a setting that reads as a "
            "number, and no reference is declared. Name the dial setting to start from with --reference "
            "COFFEE=SETTING, or declare a [[grind_reference]]."
        )
    return Dial(grinder_id, finer_is, dial, zeros, tuple(from_brews))


def _number(setting: str, dial: str | None, grinder_id: str) -> float:
    value = read_setting(setting, dial)
    if value is None:
        how = f"a dial that counts {dial}" if dial else "a dial of plain numbers"
        raise ProblemError(
            f"The reference {setting!r} is no setting of grinder {grinder_id}, {how}. If its dial counts otherwise, "
            "say so under dial in the grinders table."
        )
    return value


def _median(facts: pl.DataFrame, coffee: str, grinder_id: str, method: str) -> float | None:
    here = (pl.col("coffee_id") == coffee) & (pl.col("grinder_id") == grinder_id) & (pl.col("method") == method)
    zeros = facts.filter(here & pl.col("grind_zero").is_not_null())["grind_zero"]
    return float(zeros[0]) if len(zeros) else None


def on_dial(facts: pl.DataFrame, dial: Dial) -> pl.DataFrame:
    """The brews on this grinder, their grind counted from the dial's own zeros (other coffees as they were)."""
    zero = pl.col("coffee_id").replace_strict(dict(dial.zeros), default=None, return_dtype=pl.Float64)
    sign = 1.0 if dial.finer_is == "higher" else -1.0
    steps = pl.coalesce(sign * (pl.col("grind_dial") - zero), "grind_steps_finer")
    return facts.filter(pl.col("grinder_id") == dial.grinder_id).with_columns(grind_steps_finer=steps)


def freeze_block(dial: Dial, method: str) -> str:
    """Lines for lab.toml or study.toml that keep the zeros taken from brews where they are; empty if none were."""
    return "\n".join(
        f'[[grind_reference]]\ncoffee_id = "{coffee}"\ngrinder_id = "{dial.grinder_id}"\nmethod = "{method}"\n'
        f'grind_setting = "{write_setting(dial.zeros[coffee], dial.dial)}"\n'
        for coffee in dial.from_brews
    )
