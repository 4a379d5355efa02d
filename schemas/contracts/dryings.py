"""One row per weighing of a dried dish.

Key: `drying_id`, `brew_id`, `instrument_id`, `sample_no`, `replicate`, `weighing_no`. A dish has as many rows as it was
weighed after drying; a blank dish stands without a brew.
"""

from __future__ import annotations

from schemas.table import Table, narrow

DRYINGS = Table(
    name="dryings",
    row="weighing",
    key=("drying_id", "brew_id", "instrument_id", "sample_no", "replicate", "weighing_no"),
    column_names=(
        "brew_id",
        "instrument_id",
        "drying_id",
        "sample_no",
        "replicate",
        "weighing_no",
        "is_blank",
        "scale_id",
        "dish_g",
        "dish_plus_sample_g",
        "dish_plus_dry_g",
        "dry_temp_c",
        "dried_at",
        "notes",
    ),
    required=("replicate", "weighing_no", "dish_plus_dry_g"),
    parents=(("brew_id", "brews"), ("instrument_id", "instruments"), ("scale_id", "instruments")),
    one_of=(("brew_id",), ("is_blank",)),
    narrowed=(
        narrow("instrument_id", meaning="The drying oven"),
        narrow("replicate", meaning="Which dish of this sample"),
        narrow("scale_id", meaning="The weighing scale that all masses of this dish were read on"),
        narrow("dish_g", low=None, above=0),
        narrow("dish_plus_sample_g", low=None, above=0),
        narrow("dish_plus_dry_g", low=None, above=0),
    ),
)
