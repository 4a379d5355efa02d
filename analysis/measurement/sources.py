"""The errors behind one brew's numbers: what can be wrong, by how much, and in which inputs it shows."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from analysis.measurement.component import Component, Distribution, Kind
from analysis.measurement.measured import Mass, MeasuredBrew, ReadingGroup, Scale
from analysis.uncertainty import instrument_variance, weighing_variance
from schemas.problem import ProblemError


@dataclass(frozen=True, slots=True)
class ErrorSource:
    """One error with standard uncertainty `u`; `weights` says how far one unit of it moves each input."""

    name: str
    u: float
    weights: Mapping[str, float]
    group: str
    df: float = math.inf
    kind: Kind = "B"
    distribution: Distribution = "normal"
    shared: str = ""
    pool: str = ""

    def component(self, slopes: Mapping[str, float]) -> Component:
        """The budget line of this error, given the result's slope along each input."""
        sensitivity = math.fsum(weight * slopes[name] for name, weight in self.weights.items())
        return Component(self.name, self.u, sensitivity, self.df, self.kind, self.group, self.shared, self.pool)


def error_sources(brew: MeasuredBrew) -> tuple[ErrorSource, ...]:
    """All errors of a brew's readings, masses and moisture; refuses an instrument without an uncertainty."""
    n_all = sum(group.n_readings for group in brew.readings)
    found: list[ErrorSource] = []
    for group in brew.readings:
        several = f", {group.instrument or 'unnamed'}" if len(brew.readings) > 1 else ""
        found += _of_readings(group, group.n_readings / n_all, brew.tds_pct, several)
    for name, mass in brew.masses().items():
        found += _of_mass(name, mass)
    found += _of_scale_gain(brew.masses())
    if brew.moisture_pct is not None and brew.moisture_u_pct > 0:
        found.append(ErrorSource("moisture", brew.moisture_u_pct, {"moisture": 1.0}, "moisture"))
    return tuple(found)


def _of_readings(group: ReadingGroup, share: float, tds_pct: float, several: str) -> Iterator[ErrorSource]:
    """Scatter, what is left of calibration or the correction, gain and display step; `share` of all readings."""
    weights = {"TDS": share}
    if group.scatter_pct is not None:
        yield ErrorSource(
            f"TDS scatter{several}",
            group.scatter_pct / math.sqrt(group.n_repeats),
            weights,
            "TDS",
            df=group.scatter_df,
            kind="A",
            pool=group.pool or f"scatter on {group.instrument}",
        )
    if group.correction_u_pct is not None:
        yield ErrorSource("TDS correction", group.correction_u_pct, weights, "TDS", shared=group.instrument)
    else:
        bias = _known(group.standard_uncertainty_pct, group.instrument or "A reading without instrument")
        yield ErrorSource("TDS bias", bias, weights, "TDS", shared=group.instrument)
    if group.gain_u > 0:
        turned = {"TDS": share * (tds_pct - group.gain_about_pct)}
        yield ErrorSource("TDS gain", group.gain_u, turned, "TDS", shared=group.instrument)
    if group.resolution_pct:
        step = math.sqrt(instrument_variance(standard_uncertainty=0.0, resolution=group.resolution_pct))
        yield ErrorSource(f"TDS display step{several}", step, weights, "TDS", distribution="rectangular")


def _of_mass(name: str, mass: Mass) -> Iterator[ErrorSource]:
    """What is left of the scale's calibration, and its display read twice."""
    if not isinstance(mass.scale, Scale):
        if mass.scale > 0:
            yield ErrorSource(f"{name} weighing", mass.scale, {name: 1.0}, name)
        return
    scale = mass.scale
    bias = _known(scale.standard_uncertainty_g, scale.instrument or "A weighing scale")
    yield ErrorSource(f"{name} bias", bias, {name: 1.0}, name, shared=scale.instrument)
    if scale.resolution_g:
        step = math.sqrt(weighing_variance(standard_uncertainty=0.0, resolution=scale.resolution_g))
        yield ErrorSource(f"{name} display step", step, {name: 1.0}, name, distribution="triangular")


def _of_scale_gain(masses: Mapping[str, Mass]) -> Iterator[ErrorSource]:
    """One slope error per weighing scale moves all of its masses together."""
    gains: dict[Scale, dict[str, float]] = {}
    for name, mass in masses.items():
        if isinstance(mass.scale, Scale) and mass.scale.gain_u > 0:
            gains.setdefault(mass.scale, {})[name] = mass.mass_g
    for scale, weights in gains.items():
        yield ErrorSource("weighing scale gain", scale.gain_u, weights, "weighing scale", shared=scale.instrument)


def _known(u: float | None, who: str) -> float:
    if u is None:
        raise ProblemError(
            f"{who} has no standard_uncertainty, so no uncertainty can be stated. "
            "Put it into the instruments table, or a default under [uncertainty] in lab.toml where none is named."
        )
    return u
