"""From rows of the facts to what one budget needs: readings by instrument, masses with their weighing scale."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from analysis.measurement.measured import Mass, MeasuredBrew, ReadingGroup, Scale
from schemas.lab import LabSettings
from schemas.problem import ProblemError

Row = Mapping[str, Any]
DEFAULT_OF = {
    "dose": "dose_g",
    "beverage": "beverage_g",
    "water": "water_g",
    "evaporated": "water_g",
    "bypass": "water_g",
}
"""The lab's default uncertainty that each mass takes where no weighing scale is named."""


def measured_brew(brew: Row, groups: Iterable[Row], settings: LabSettings) -> MeasuredBrew:
    """One brew from its row and its `reading_groups`.

    `brew` has the brew's own columns, tds_pct, balance_used, and the `JOINED_EXTRA` of its lot and scale. Refuses a
    brew without a strength or a mass balance.
    """
    if brew["tds_pct"] is None or brew["balance_used"] is None:
        lacks = "strength" if brew["tds_pct"] is None else "mass balance"
        raise ProblemError(
            f"Brew {brew['brew_id']} has no {lacks} that can be used, so it has no budget. "
            "`brewtrials flags` says what is in the way."
        )
    return MeasuredBrew(
        balance=brew["balance_used"],
        tds_pct=brew["tds_pct"],
        readings=tuple(reading_group(group) for group in groups),
        dose=Mass(brew["dose_g"], _scale(brew, "dose", settings)),
        **{name: _mass(brew, name, settings) for name in ("beverage", "water", "evaporated", "bypass")},
        bypass_included=bool(brew["bypass_included"]),
        read_after_bypass=bool(brew["bypass_before_reading"]),
        moisture_pct=brew["moisture_pct"],
        moisture_u_pct=settings.default_u.get("moisture_pct", 0.0),
    )


def reading_group(group: Row) -> ReadingGroup:
    """One row of `reading_groups`, its instrument's own units turned into percent of dissolved solids.

    What a correction leaves open is two errors: of its height at `correction_centre`, and of its slope about there. Two
    brews of unlike strength share the one in full, the other in part.
    """
    unit_pct = group["unit_pct"]
    named = group["instrument_id"] or ""
    corrected = group["correction_u"] is not None and bool(named)
    bias_u = None if group["bias_u"] is None else group["bias_u"] * unit_pct
    slope_open = corrected and (group["correction_gain_u"] or 0.0) > 0
    return ReadingGroup(
        instrument=named,
        n_readings=group["n"],
        n_repeats=group["n_repeats"],
        scatter_pct=group["scatter_pct"],
        scatter_df=group["scatter_df"] or 0,
        standard_uncertainty_pct=None if corrected else bias_u,
        correction_u_pct=group["correction_u"] * unit_pct if corrected else None,
        resolution_pct=None if group["resolution"] is None else group["resolution"] * unit_pct,
        gain_u=group["correction_gain_u"] if slope_open else 0.0,
        gain_about_pct=group["correction_centre"] * unit_pct if slope_open else 0.0,
        pool=f"{named}: {group['scatter_pool']}",
    )


def _mass(brew: Row, name: str, settings: LabSettings) -> Mass | None:
    mass_g = brew[f"{name}_g"]
    return None if mass_g is None else Mass(mass_g, _scale(brew, name, settings))


def _scale(brew: Row, name: str, settings: LabSettings) -> Scale | float:
    if brew["scale_id"] is None:
        return settings.default_u.get(DEFAULT_OF[name], 0.0)
    return Scale(brew["scale_id"], brew["scale_standard_uncertainty"], brew["scale_resolution"])
