"""The results of one brew as functions of its inputs: for its own numbers, and for many draws of them at once."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Literal, get_args

from analysis import extraction
from analysis.measurement.measured import MeasuredBrew
from analysis.number import Number
from schemas.problem import ProblemError

Result = Literal["extraction_yield_pct", "extraction_yield_dry_pct", "cup_tds_pct"]


def check_result(brew: MeasuredBrew, result: Result) -> None:
    """Refuse a result that this brew cannot have."""
    if result not in get_args(Result):
        raise ProblemError(f"A budget is made of one of {', '.join(get_args(Result))}, not of {result!r}.")
    if result == "extraction_yield_dry_pct" and brew.moisture_pct is None:
        raise ProblemError("The yield on the dry dose needs moisture_pct of the coffee or lot. Measure or declare it.")
    if result == "cup_tds_pct" and brew.has_bypass and not brew.read_after_bypass and brew.beverage is None:
        raise ProblemError("The strength as served needs the mass of the beverage that the bypass went into. Weigh it.")


def evaluate(brew: MeasuredBrew, x: Mapping[str, Number], result: Result) -> Number:
    """A result in percent from inputs `x` (floats or arrays by name), by the mass balance of `brew`."""
    if result == "cup_tds_pct":
        return _cup_strength(brew, x)
    undiluted_pct = x["TDS"]
    if brew.reads_bypass:
        undiluted_pct = extraction.undiluted_tds_pct(
            tds_pct=x["TDS"], beverage_g=_before_bypass_g(brew, x), bypass_g=x["bypass"]
        )
    if brew.balance == "percolation":
        dissolved_g = extraction.percolation_dissolved_g(beverage_g=_before_bypass_g(brew, x), tds_pct=undiluted_pct)
    else:
        dissolved_g = extraction.immersion_dissolved_g(
            water_g=x["water"], evaporated_g=x["evaporated"], tds_pct=undiluted_pct
        )
    dose_g = x["dose"]
    if result == "extraction_yield_dry_pct":
        dose_g = extraction.dry_dose_g(dose_g=dose_g, moisture_pct=x["moisture"])
    return extraction.extraction_yield_pct(dissolved_g=dissolved_g, dose_g=dose_g)


def _cup_strength(brew: MeasuredBrew, x: Mapping[str, Number]) -> Number:
    if not brew.has_bypass or brew.read_after_bypass:
        return x["TDS"]
    return extraction.cup_tds_pct(tds_pct=x["TDS"], beverage_g=_before_bypass_g(brew, x), bypass_g=x["bypass"])


def _before_bypass_g(brew: MeasuredBrew, x: Mapping[str, Number]) -> Number:
    """M, the beverage without the bypass that was weighed in with it."""
    if not (brew.bypass_included and brew.has_bypass):
        return x["beverage"]
    bypass_g = x["bypass"]
    return extraction.beverage_before_bypass_g(
        beverage_g=x["beverage"], bypass_g=bypass_g, bypass_included=1 + 0 * bypass_g
    )
