"""The data dictionary: every column described once, with unit, meaning, hard and plausible range.

A table contract may narrow a column (see `schemas.table.Field`); it never describes it again.
"""

from __future__ import annotations

from schemas.column import Column, boolean, choice, date, integer, mass, number, seconds, text, time
from schemas.derived_columns import DERIVED
from schemas.methods import METHODS

IDENTITY = (
    text("brew_id", "The brew's own name, unique in the project folder; leading zeros stay"),
    text("study_id", "The planned study this brew belongs to"),
    text("recipe_id", "The recipe it followed; brews of one recipe are repeats of each other"),
    time("brewed_at", "When the brew was made"),
    text("operator", "Who brewed"),
    text("site", "Where: shop, bench, room"),
    text("session_id", "The sitting in which brews or tastings were made together"),
    integer("run_order", "Place in the order of brewing within the session", low=0),
    text("block", "Block of a planned design"),
    text("notes", "Anything worth remembering"),
)
COFFEE = (
    text("coffee_id", "The coffee's own name, unique in the project folder"),
    text("lot_id", "One roast or delivery of a coffee"),
    text("name", "What people call it"),
    text("origin", "Country, region or farm"),
    text("process", "How the fruit was removed: washed, natural, honey"),
    text("variety", "Botanical variety"),
    choice("roast_level", "Roast degree", "light", "medium", "dark"),
    date("roasted_on", "Day of roasting"),
    number(
        "moisture_pct",
        "Water in the roasted coffee, share of its mass",
        "%",
        low=0,
        high=15,
        usual=(1, 5),
        usual_note="common practice, no source",
    ),
    integer("frozen_days", "Days this lot spent frozen; they do not count as ageing", low=0),
)
KIT = (
    choice("method", "How it was brewed", *METHODS),
    text("brewer", "The brewing device"),
    text("basket", "The basket or portafilter insert"),
    text("filter", "The filter paper or screen"),
    text("machine_id", "The espresso machine or batch brewer"),
    text("water_id", "The brew water"),
    text("grinder_id", "The grinder's own name"),
    text("grind_setting", "Dial setting, kept as written; it orders settings on one grinder only"),
    text("scale_id", "The weighing scale that all masses of this brew were read on"),
    choice("finer_is", "Which way the dial runs: are lower or higher numbers finer?", "lower", "higher"),
    number("step_um", "Change of the burr gap for one dial unit", "um", above=0),
    text("dial", "How a compound dial counts: '10.5' = ten small marks make a large one, five clicks a small one"),
    text("instrument_id", "The instrument's own name"),
    choice("kind", "What kind of thing this is"),
    number("resolution", "Smallest step of the display, in the instrument's unit", low=0),
    number("standard_uncertainty", "What is left of calibration (bias), in the instrument's unit", low=0),
    text("unit", "The unit the instrument reads in"),
)
RECIPE = (
    mass("dose_g", "Dry ground coffee put in", usual=(5, 1000)),
    mass("water_g", "Brew water put in, without any bypass", usual=(20, 20000)),
    mass("beverage_g", "Liquid in the cup after drawdown", usual=(10, 20000)),
    mass("bypass_g", "Water added to the finished beverage"),
    boolean("bypass_included", "Does beverage_g contain the bypass?"),
    boolean("bypass_before_reading", "Was the bypass in when the reading was taken?"),
    mass("evaporated_g", "Water lost as vapour while brewing, where weighed"),
    mass("spent_wet_g", "Wet grounds after brewing"),
    number("water_temp_c", "Brew water temperature", "C", low=-5, high=150, usual=(2, 100)),
    seconds("brew_time_s", "First water to stop"),
    seconds("first_drip_s", "First water to first drip"),
    seconds("preinfusion_s", "Wetting before full flow or pressure"),
    number("pressure_bar", "Peak brew pressure above ambient", "bar", low=0, usual=(0, 12)),
    choice("channeling", "Uneven flow through the bed, as seen; empty = not looked at", "none", "slight", "severe"),
    boolean("discarded", "Poured away, still analysed"),
    text("void_reason", "Why this record is wrong; the brew is kept and shown but left out of every analysis"),
    text("changed", "What was changed before this brew: burrs cleaned, new basket"),
    choice("mass_balance", "Which mass balance applies; empty = by method", "percolation", "immersion"),
)
PLANNED = (
    text("planned_grind_setting", "Dial setting that the run sheet asked for"),
    mass("planned_dose_g", "Dose that the run sheet asked for"),
    mass("planned_water_g", "Brew water that the run sheet asked for; over the planned dose, the planned water ratio"),
    mass("planned_beverage_g", "Beverage that the run sheet asked for; over the planned dose, the planned ratio"),
    number("planned_water_temp_c", "Water temperature that the run sheet asked for", "C", low=-5, high=150),
    seconds("planned_brew_time_s", "Brew time that the run sheet asked for"),
    seconds("planned_preinfusion_s", "Preinfusion that the run sheet asked for"),
    number("planned_pressure_bar", "Pressure that the run sheet asked for", "bar", low=0),
)
READING = (
    integer("sample_no", "Which drop or vial of this brew; a new drop is a new sample", low=0),
    integer("reading_no", "Which reading of that sample", low=0),
    number("tds_pct", "Dissolved solids, share of the beverage's mass: strength", "%", low=0, high=30),
    choice("reading_scale", "What the number is: dissolved solids or Brix", "tds", "brix"),
    number("sample_temp_c", "Sample temperature at the reading", "C", low=-5, high=150, usual=(10, 40)),
    boolean("sample_filtered", "Was the sample filtered before the reading?"),
    choice("served_as", "Black or in milk", "black", "milk"),
    text("read_by", "Who read the instrument; the brewer's name is operator"),
    time("read_at", "When the reading was taken"),
    time("checked_at", "When the check was made"),
    choice("check_kind", "Zero on water, or against a reference", "water_zero", "reference"),
    number("reference_value", "What the instrument should have read, in its unit"),
    number("observed_value", "What it read, in its unit"),
)
TASTE = (
    text("attribute", "What was judged"),
    number("low", "Lower end of the scale or target"),
    number("high", "Upper end of the scale or target"),
    choice("better", "Which end is better", "higher", "lower", "middle"),
    text("blind_code", "Three-digit code on the cup"),
    integer("cup_no", "Which cup of the session", low=0),
    text("assessor", "Who tasted"),
    number("score", "The score given"),
    integer("position", "Place in the serving order", low=0),
    integer("replicate", "Which repeat of the same cup or test", low=0),
    mass("milk_g", "Milk added"),
    number("cup_temp_c", "Temperature in the cup", "C", low=-5, high=150),
    text("test_id", "The difference test's own name"),
    text("brew_id_a", "First brew of the test"),
    text("brew_id_b", "Second brew of the test"),
    boolean("correct", "Was the odd or matching cup found?"),
    text("chosen_brew_id", "The brew chosen in a paired test"),
    text("question", "What a paired test asked for"),
    text("serving_order", "The order in which cups were served"),
)
SERIES = (
    integer("fraction_no", "Which cup of one brew caught in several cups", low=0),
    seconds("start_s", "When this cup began to fill"),
    seconds("end_s", "When it was taken away"),
    mass("mass_g", "Liquid caught in this cup"),
    seconds("t_s", "Time since first water"),
    mass("withdrawn_g", "Liquid drawn off for this sample"),
    number("flow_g_s", "Beverage flow", "g/s"),
)
DRYING = (
    text("drying_id", "One oven run: the dishes that were dried together, blank dishes too"),
    integer("weighing_no", "Which weighing of this dish after drying, in their order", low=0),
    boolean("is_blank", "A dish without coffee, dried with the others: empty, or with as much brew water"),
    mass("dish_g", "The empty dish; once for each dish will do"),
    mass("dish_plus_sample_g", "Dish with the beverage poured in, before drying; once for each dish will do"),
    mass("dish_plus_dry_g", "Dish with what is left, dried and cooled"),
    time("dried_at", "When the dried dish was weighed"),
    number(
        "dry_temp_c",
        "Oven temperature",
        "C",
        low=0,
        high=300,
        usual=(95, 110),
        usual_note="common practice, no source",
    ),
)
TARGET = (
    text("target_id", "The target's own name"),
    date("valid_from", "First day it holds"),
    date("valid_to", "Last day it holds"),
    choice(
        "quantity",
        "What is aimed at",
        "tds_pct",
        "extraction_yield_pct",
        "beverage_g",
        "brew_time_s",
        "water_ratio",
        "beverage_ratio",
    ),
    number("aim", "The value aimed at"),
    text("note", "Why this target"),
)
COLUMNS: dict[str, Column] = {
    column.name: column
    for column in (*IDENTITY, *COFFEE, *KIT, *RECIPE, *PLANNED, *READING, *TASTE, *SERIES, *DRYING, *TARGET, *DERIVED)
}
"""Every column by its name."""
