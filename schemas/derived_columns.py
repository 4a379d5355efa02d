"""The part of the data dictionary that the toolkit adds: derived quantities and where a row came from."""

from __future__ import annotations

from schemas.column import Column, boolean, choice, date, integer, number, text

PROVENANCE = (
    text("source_file", "The file this row came from, as it was given"),
    text("sheet", "The sheet of a workbook; empty for a text file"),
    integer("line", "Line in that file (header = 1), or row in the sheet"),
    integer("commit_no", "The ingest, counted from 1, that took this row in"),
    integer("revision", "Which version of its key this row is: 0 the first, counted up by each later change"),
    boolean("brewed_at_is_date", "Only the day was given: the order of rows stands in for the order of brews"),
)
FACTS = (
    text("coffee_name", "The coffee's name, else its id"),
    integer("days_off_roast", "Whole calendar days from roasting to brewing, less days frozen"),
    integer("n_readings", "How many readings of strength this brew has"),
    number("tds_sd_pct", "Spread of this brew's readings: standard deviation", "%"),
    number("tds_u_pct", "Standard uncertainty of the strength", "%"),
    number("cup_tds_pct", "Strength in the cup as served, after any bypass", "%"),
    number("dissolved_g", "Coffee matter now in solution", "g"),
    number(
        "extraction_yield_pct",
        "Dissolved matter as a share of the dose",
        "%",
        usual=(18, 22),
        usual_note="common practice, no source; hot drip coffee on the percolation balance",
    ),
    number("extraction_yield_u_pct", "Standard uncertainty of the extraction yield", "points"),
    text("u_note", "What the uncertainties leave out; empty when all is named and repeats exist"),
    number("extraction_yield_dry_pct", "Dissolved matter as a share of the dry dose", "%"),
    choice("balance_used", "The mass balance that was applied", "percolation", "immersion"),
    number("water_ratio", "Brew water per dose", "g/g"),
    number("beverage_ratio", "Beverage before bypass per dose", "g/g"),
    number("total_water_ratio", "Brew water and bypass per dose", "g/g"),
    number("retained_g", "Water left behind in the bed", "g"),
    number("retained_ratio", "Water left behind per dose", "g/g"),
    number("grind_dial", "The dial setting as a number, in dial units", "dial units"),
    number("grind_steps_finer", "Dial units finer than the reference; positive = finer", "dial units"),
    number("grind_um_finer", "Burr gap narrower than the reference; positive = finer", "um"),
    number("grind_zero", "The dial setting that counts as zero", "dial units"),
    text("grind_reference_note", "Where that zero comes from: declared, or the median of the brews"),
    boolean("channeled", "Channeling seen, slight or severe; empty = not looked at"),
    boolean("in_target_recipe", "Masses, time and ratios inside their targets"),
    boolean("in_target_cup", "Strength and yield inside their targets"),
    boolean("in_target", "Everything inside its targets"),
    boolean("is_void", "Left out of every analysis because the record is wrong"),
    date("brewed_on", "Calendar day of the brew in the lab's zone"),
)
REPORTS = (
    text("table", "The table the row belongs to"),
    text("column", "The column that is wrong, or worth a look"),
    text("value", "What stood there"),
    text("rule", "The named rule it met"),
    text("message", "What is wrong, in a sentence"),
    text("fix", "What to try"),
    text("row_json", "The whole row as it stood"),
    text("response", "The quantity explained"),
    text("term", "Which part of the model this row is about"),
    number("step", "The change the estimate is stated for"),
    text("per", "That change in words"),
    number("estimate", "Change of the response for one step"),
    number("std_error", "Standard error of the estimate"),
    number("df", "Degrees of freedom behind the interval"),
    number("p_value", "Chance of an estimate this far from zero if there were no effect"),
    integer("n_brews", "Brews the estimate rests on"),
    integer("n_coffees", "Coffees the estimate rests on"),
    text("model", "The model fitted, in words"),
    text("dropped", "Rows left out, and why"),
    text("effect_note", "What to know beside the estimates of this analysis; empty when there is nothing"),
)
DERIVED: tuple[Column, ...] = (*PROVENANCE, *FACTS, *REPORTS)
