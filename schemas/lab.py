"""What a lab declares about itself in `lab.toml`: the settings every calculation may need."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

UnknownParents = Literal["stub", "set_aside"]


@dataclass(frozen=True, slots=True)
class GrindReference:
    """The dial setting that counts as zero for one coffee, grinder and method."""

    coffee_id: str
    grinder_id: str
    method: str
    grind_setting: str


@dataclass(frozen=True, slots=True)
class Correction:
    """A declared correction of one instrument, in its unit: strength = (reading - offset) / slope.

    Its own standard uncertainty at a strength is `hypot(standard_uncertainty, slope_u / slope * (strength - centre))`:
    at `centre` the errors of offset and slope are independent, which says their covariance. `low` to `high` are the
    strengths that the checks behind it span; None where not said.
    """

    instrument_id: str
    offset: float = 0.0
    slope: float = 1.0
    standard_uncertainty: float = 0.0
    note: str = ""
    slope_u: float = 0.0
    centre: float = 0.0
    low: float | None = None
    high: float | None = None


@dataclass(frozen=True, slots=True)
class CheckLimits:
    """How far off a check may read, and the standard uncertainty of its reference value; None where not said.

    In % of strength under [checks], in the instrument's own unit under [checks.<instrument>].
    """

    zero_tolerance: float | None = None
    reference_tolerance: float | None = None
    reference_u: float | None = None


@dataclass(frozen=True, slots=True)
class DryingSettings:
    """How oven-dried samples are judged.

    A dish is dry once its last two weighings differ by at most `constant_mass_pct` percent of what is left in it, or
    by one display step of the weighing scale. `volatile_loss_u_pct` is the standard uncertainty, in percent of what is
    left, from matter that the oven drove off besides water; None where the lab has not declared it.
    """

    constant_mass_pct: float = 0.5
    volatile_loss_u_pct: float | None = None


@dataclass(frozen=True, slots=True)
class GateLimits:
    """Limits of `brewtrials gate`; None means not asked for."""

    min_brews: int = 1
    max_set_aside: int = 0
    max_age_days: float | None = None
    min_in_target_share: float | None = None


@dataclass(frozen=True, slots=True)
class LabSettings:
    """A lab's declarations. Uncertainties are standard uncertainties in the unit of the quantity (g, %).

    `constants` stand in for columns that the lab's sheets leave out, such as `method = "espresso"`.

    >>> LabSettings().timezone
    'UTC'
    """

    name: str = ""
    altitude_m: float = 0.0
    timezone: str = "UTC"
    unknown_parents: UnknownParents = "stub"
    default_u: dict[str, float] = field(default_factory=dict)
    corrections: tuple[Correction, ...] = ()
    checks: CheckLimits = CheckLimits()
    instrument_checks: dict[str, CheckLimits] = field(default_factory=dict)
    brix_factor: float | None = None
    grind_references: tuple[GrindReference, ...] = ()
    drying: DryingSettings = DryingSettings()
    gate: GateLimits = GateLimits()
    labels: dict[str, str] = field(default_factory=dict)
    constants: dict[str, str] = field(default_factory=dict)
