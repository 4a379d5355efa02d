"""Header words that may mean two things, or something the toolkit works out itself: asked about, never guessed."""

from __future__ import annotations

UNCLEAR: dict[str, tuple[str, ...]] = {
    "yield": ("beverage_g", "the extraction yield, which is worked out here"),
    "brew": ("brew_id", "run_order"),
    "brew no": ("brew_id", "run_order"),
    "brew number": ("brew_id", "run_order"),
    "shot": ("brew_id", "run_order"),
    "shot no": ("brew_id", "run_order"),
    "shot number": ("brew_id", "run_order"),
    "no": ("brew_id", "run_order"),
    "nr": ("brew_id", "run_order"),
    "number": ("brew_id", "run_order"),
    "id": ("brew_id", "coffee_id"),
    "weight": ("dose_g", "beverage_g"),
    "mass": ("dose_g", "beverage_g"),
    "refractometer": ("instrument_id", "tds_pct"),
    "bloom": ("preinfusion_s", "a part of water_g"),
    "type": ("method", "coffee_id"),
    "style": ("method", "roast_level"),
    "total water": ("water_g", "water_g and bypass_g together"),
}
"""Word in a log of brews to what it may mean."""

WORKED_OUT = (
    *("extraction", "extraction yield", "extraction pct", "extraction yield pct", "ey", "ey pct", "ext", "yield pct"),
    *("ratio", "brew ratio", "water ratio", "beverage ratio", "retained", "retained water", "dissolved"),
)
"""Words for quantities that follow from the others; a log's own figures are kept with the original file only."""

WITH_UNIT: dict[str, dict[str, str]] = {
    "g": {"yield": "beverage_g", "coffee": "dose_g", "beans": "dose_g", "bean": "dose_g"},
    "s": {"time": "brew_time_s"},
}
"""Words whose meaning a unit of this kind in the header settles, in a log of brews."""

OPEN_TIME = "time"
"""In a log of brews this word alone is the brew time or the time of day: the cells must show which."""

CLOCK_WORDS = ("time of day", "clock", "clock time", "hour")
"""Words for a time of day that belongs to the date beside it."""
