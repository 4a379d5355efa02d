"""One row per sample drawn from a steeping brew. Key: `brew_id`, `t_s`."""

from __future__ import annotations

from schemas.table import Table

STEEPS = Table(
    name="steeps",
    row="sample",
    key=("brew_id", "t_s"),
    column_names=("brew_id", "t_s", "tds_pct", "withdrawn_g"),
    required=("brew_id", "t_s", "tds_pct"),
    parents=(("brew_id", "brews"),),
)
