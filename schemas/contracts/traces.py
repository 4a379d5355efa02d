"""One row per moment of a recorded brew. Key: `brew_id`, `t_s`."""

from __future__ import annotations

from schemas.table import Table, narrow

TRACES = Table(
    name="traces",
    row="moment",
    key=("brew_id", "t_s"),
    column_names=("brew_id", "t_s", "beverage_g", "pressure_bar", "flow_g_s", "water_temp_c"),
    required=("brew_id", "t_s"),
    parents=(("brew_id", "brews"),),
    narrowed=(
        narrow("beverage_g", low=None, usual=None, meaning="Liquid on the scale at this moment"),
        narrow("pressure_bar", low=None, usual=None, meaning="Pressure above ambient at this moment"),
    ),
)
