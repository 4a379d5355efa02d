"""Settings and requests that several tests plan with."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from analysis.planning.factors import PlanFactor
from analysis.planning.plan import make_plan
from analysis.planning.planned import Plan
from analysis.planning.request import PlanRequest

GRIND = PlanFactor("grind_steps_finer", -2, 2, 0.5)
TEMP = PlanFactor("water_temp_c", 90, 96, 1)
RATIO = PlanFactor("beverage_ratio", 1.8, 2.4, 0.1)
HARD_TEMP = replace(TEMP, hard_to_change=True)


def asked(*factors: PlanFactor, **more) -> PlanRequest:
    """A request for espresso on two coffees unless more is said."""
    return PlanRequest(**{"factors": factors, "coffees": ("ostrin", "calmuth"), "method": "espresso", **more})


def planned(*factors: PlanFactor, seed: int = 1, **more) -> Plan:
    """The plan of that request."""
    return make_plan(asked(*factors, **more), rng=np.random.default_rng(seed))
