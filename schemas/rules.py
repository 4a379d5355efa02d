"""Every named row rule, hard ones first. The names appear in `set_aside.rule` and `flags.rule`."""

from __future__ import annotations

from schemas.rule import Rule

HARD = (
    Rule("empty_required", "hard", "{column} is empty; a {row} needs it.", "Fill in {column}."),
    Rule("not_a_number", "hard", "{column} should be a number, not {value}.", "Write digits only, in {unit}."),
    Rule(
        "not_finite",
        "hard",
        "{column} is {value}, which is not a finite number.",
        "Write the value, or leave the cell empty.",
    ),
    Rule("not_a_whole_number", "hard", "{column} should be a whole number, not {value}.", "Write a whole number."),
    Rule(
        "not_a_date",
        "hard",
        "{column} should be a date or time, not {value}.",
        "Write it as 2026-04-03 or 2026-04-03T09:15.",
    ),
    Rule(
        "ambiguous_date",
        "hard",
        "{column} {value} could be day first or month first; nothing in this file decides.",
        "Write the date as 2026-04-03, or set date_order in columns.toml.",
    ),
    Rule(
        "no_such_time",
        "hard",
        "{column} {value} does not exist in {zone}: the clocks went forward.",
        "Correct the time, or give it with its offset.",
    ),
    Rule("not_yes_or_no", "hard", "{column} should be yes or no, not {value}.", "Write yes or no."),
    Rule("not_in_list", "hard", "{column} is {value}; it must be one of {choices}.", "Use one of those words."),
    Rule(
        "ragged_row",
        "hard",
        "The row has {found} cells, the header has {expected}.",
        "Check for a missing or extra separator or quote, such as a decimal comma among commas.",
    ),
    Rule(
        "key_clash",
        "hard",
        "{count} rows of this file have the key {value} and differ; which one is true?",
        "Keep the right row under this key; delete the others or give them their own {column}.",
    ),
    Rule(
        "unknown_id",
        "hard",
        "{column} {value} is not in {parent}.",
        "Correct the id, or add it to {parent}; the row is tried again at every ingest.",
    ),
    Rule(
        "not_positive",
        "hard",
        "{column} is {value} {unit}; it must be more than {limit}.",
        "Check the value and its unit.",
    ),
    Rule(
        "too_low",
        "hard",
        "{column} is {value} {unit}; it cannot be below {limit}.",
        "Check the value, its sign and its unit.",
    ),
    Rule(
        "too_high",
        "hard",
        "{column} is {value} {unit}; it cannot be above {limit}.",
        "Check the decimal point and the unit.",
    ),
    Rule(
        "yield_too_high",
        "hard",
        "The extraction yield would be {value} %; more than {limit} % of the dose cannot dissolve.",
        "Check strength, masses and the mass balance.",
    ),
    Rule(
        "beverage_exceeds_water",
        "hard",
        "beverage_g {value} g is more than water and dose together ({limit} g).",
        "Check whether water and beverage were swapped, or the bypass left out.",
    ),
    Rule(
        "missing_mass",
        "hard",
        "{column} is empty; the {balance} mass balance needs it.",
        "Fill in {column}, or say which mass_balance applies.",
    ),
    Rule(
        "balance_unknown",
        "hard",
        "method is other, so mass_balance must say percolation or immersion.",
        "Fill in mass_balance.",
    ),
    Rule(
        "in_the_future",
        "hard",
        "{column} {value} is more than a day ahead of the clock.",
        "Check the date, the month and the time zone.",
    ),
    Rule("low_above_high", "hard", "low is {low}, above high {high}.", "Swap or correct the two."),
    Rule(
        "dry_not_above_dish",
        "hard",
        "dish_plus_dry_g {value} g is not more than the empty dish ({limit} g): nothing would be left in it.",
        "Check both weights, and whether the scale was zeroed with the dish on it.",
    ),
    Rule(
        "dry_above_sample",
        "hard",
        "dish_plus_dry_g {value} g is more than dish_plus_sample_g ({limit} g): drying adds nothing.",
        "Check both weights, and whether it is the same dish.",
    ),
)
SOFT = (
    Rule(
        "yield_unusual",
        "soft",
        "Extraction yield {value} % is outside {low} to {high} %.",
        "Check dose, beverage or water, and the reading.",
    ),
    Rule(
        "yield_beyond_soluble",
        "strong",
        "Extraction yield {value} % is over {high} %, about all that can dissolve.",
        "Check dose, mass and reading; this is seldom real.",
    ),
    Rule(
        "strength_unusual",
        "soft",
        "Strength {value} % is outside {low} to {high} % for {method}.",
        "Check the reading and its decimal point.",
    ),
    Rule(
        "retained_unusual",
        "soft",
        "{value} g of water per gram of dose stayed behind; {low} to {high} is usual for {method}.",
        "Check water_g and beverage_g.",
    ),
    Rule(
        "above_boiling",
        "soft",
        "Water at {value} C is above boiling ({limit} C at {altitude} m).",
        "Check the probe, the unit, and altitude_m in lab.toml.",
    ),
    Rule(
        "hotter_than_pressure_gives",
        "soft",
        "Water at {value} C is above {limit} C, more than {method} reaches.",
        "Check the probe and the unit.",
    ),
    Rule(
        "bypass_exceeds_beverage",
        "soft",
        "bypass_g {value} g should be part of beverage_g, which is only {limit} g, so there is no yield.",
        "Check both weights and bypass_included.",
    ),
    Rule(
        "bypass_unclear",
        "soft",
        "Bypass was added without {missing}, so strength and yield stay empty.",
        "Fill in {missing}.",
    ),
    Rule(
        "evaporation_missing",
        "soft",
        "A boiled brew without evaporated_g: strength and yield stay empty.",
        "Weigh what boiled off.",
    ),
    Rule(
        "reading_on_milk",
        "soft",
        "The reading was taken on a milk drink, so {consequence}.",
        "Read the coffee before the milk goes in.",
    ),
    Rule(
        "brix_without_factor",
        "soft",
        "The reading is in Brix and the project folder declares no factor, so {consequence}.",
        "Declare [readings] brix_factor in lab.toml.",
    ),
    Rule(
        "readings_apart",
        "soft",
        "Two readings of one brew on {instrument} are {value} points apart; {limit} is as far as this instrument's scatter goes.",
        "Stir, cool and read again.",
    ),
    Rule("mass_missing", "soft", "{column} is empty, so there is no yield.", "Fill in {column}."),
    Rule(
        "looks_like_fahrenheit", "soft", "{column} {value} looks like Fahrenheit.", "Say so in the header, or convert."
    ),
    Rule(
        "looks_like_fraction",
        "soft",
        "{column} {value} looks like a fraction instead of a percentage.",
        "Multiply by 100: {suggest} %.",
    ),
    Rule(
        "looks_like_brix",
        "soft",
        "{column} {value} looks like Brix instead of dissolved solids.",
        "Set reading_scale to brix, or read dissolved solids.",
    ),
    Rule("looks_swapped", "soft", "water_g and beverage_g look swapped.", "Check which weight is which."),
    Rule(
        "looks_tenfold",
        "soft",
        "{column} {value} looks ten times too {direction}.",
        "Check the decimal point: {suggest}?",
    ),
    Rule(
        "looks_repeated",
        "soft",
        "This row repeats line {other} in every value but its id.",
        "If it was pasted twice, give one a void_reason.",
    ),
    Rule(
        "near_miss",
        "soft",
        "{column} {value} is new here and close to {suggest}.",
        "If they are the same, correct the id.",
    ),
    Rule(
        "dial_not_read",
        "soft",
        "{grinder}: grind_setting {value} cannot be read as a number.",
        "{say} how the dial counts in grinders.dial, such as 10.5.",
    ),
    Rule(
        "before_roast",
        "soft",
        "Brewed on {brewed_on}, roasted on {roasted_on}{frozen}: {value} days off roast.",
        "Check the date of the brew, roasted_on of its lot or coffee, and frozen_days.",
    ),
    Rule(
        "finer_is_unknown",
        "soft",
        "Grinder {value} does not say which way its dial runs, so grind steps are empty.",
        "Set finer_is to lower or higher.",
    ),
    Rule(
        "likely_weighing_error",
        "soft",
        "Likely weighing error: {detail}",
        "Look at {column} in the log; leave the row as it is if the weights are true.",
    ),
    Rule(
        "reading_in_doubt",
        "soft",
        "{instrument} failed its {check} on {checked_at}: it read {observed} where {reference} was due, and {allowed}; {span}, what it reads is in doubt{how_many}.",
        "Measure again with an instrument that passes its checks, or leave the brew out where it must be certain.",
    ),
    Rule("void_breaks_rule", "soft", "Void brew: {detail}", "Nothing to do while the brew stays void."),
    Rule(
        "time_only_day",
        "soft",
        "Only the day is given; the order of rows stands in for the order of brews.",
        "Write the time too.",
    ),
)
RULES: dict[str, Rule] = {rule.name: rule for rule in (*HARD, *SOFT)}
"""Every rule by name."""
