"""What people call the columns: plain words of the trade for the header of every column.

Matching ignores case, spaces and punctuation; a contract's own name always matches. Words that may mean two
things are not guessed: see `schemas.aliases_unclear`.
"""

from __future__ import annotations

from functools import cache

from schemas.aliases_unclear import CLOCK_WORDS, OPEN_TIME, UNCLEAR
from schemas.columns import COLUMNS
from schemas.contracts import TABLES
from schemas.plain import plain

INLINE_READING_COLUMNS = (
    "tds_pct",
    "instrument_id",
    "reading_scale",
    "sample_temp_c",
    "sample_filtered",
    "served_as",
    "read_at",
)
"""Columns of `readings` that a one-sheet log of brews may carry in the brew's own row."""

WORDS: dict[str, tuple[str, ...]] = {
    "brew_id": ("brew id", "shot id", "brew code", "brew name"),
    "study_id": ("study", "trial", "experiment", "campaign", "project"),
    "recipe_id": ("recipe", "recipe name"),
    "operator": ("barista", "brewed by", "made by", "pulled by", "by", "who", "person", "operator name"),
    "site": ("shop", "cafe", "location", "place", "store", "bench", "room"),
    "session_id": ("session", "sitting"),
    "run_order": ("order", "brew order", "run"),
    "notes": ("note", "comment", "comments", "remark", "remarks", "observation", "observations"),
    "coffee_id": ("coffee", "coffees", "bean", "beans", "coffee bean", "coffee beans", "coffee used"),
    "lot_id": ("lot", "batch", "roast batch", "roast lot", "lot no", "batch no", "lot number", "batch number"),
    "origin": ("country", "region", "farm"),
    "process": ("processing", "processing method"),
    "variety": ("varietal", "cultivar"),
    "roast_level": ("roast", "roast degree", "degree of roast"),
    "roasted_on": ("roast date", "roasted", "date roasted", "date of roast", "roast day", "roasting date"),
    "moisture_pct": ("moisture", "moisture content", "water content"),
    "frozen_days": ("frozen", "days frozen", "freezer days"),
    "method": ("brew method", "brewing method", "brew type", "brew style"),
    "brewer": ("device", "brewing device", "dripper", "cone"),
    "basket": ("filter basket", "portafilter", "portafilter basket"),
    "filter": ("filter paper", "paper", "paper filter"),
    "machine_id": ("machine", "espresso machine"),
    "water_id": ("water recipe", "water type", "water used"),
    "grinder_id": ("grinder", "mill"),
    "grind_setting": (
        *("grind", "grinder setting", "dial", "dial setting", "setting", "grind size", "grind level"),
        *("clicks", "grinder dial", "grinder clicks"),
    ),
    "scale_id": ("scale", "scales"),
    "dose_g": (
        *("dose", "dry dose", "dose in", "dry coffee", "coffee in", "coffee dose", "coffee mass", "coffee weight"),
        *("ground coffee", "grounds", "dry grounds", "dry weight", "bean weight", "weight in", "mass in", "in"),
    ),
    "water_g": ("water", "water in", "brew water", "water weight", "water mass", "water poured", "poured"),
    "beverage_g": (
        *("beverage", "beverage weight", "beverage mass", "beverage out", "bev", "out", "weight out", "mass out"),
        *("cup weight", "drink", "drink weight", "liquid", "liquid out", "liquid weight", "coffee out", "output"),
        *("yield out", "yield weight", "yield mass", "shot weight", "brew weight", "final weight", "in cup"),
        *("brewed coffee", "liquid coffee"),
    ),
    "bypass_g": ("bypass", "bypass water", "water added", "added water"),
    "evaporated_g": ("evaporated", "evaporation", "evaporation loss", "steam loss"),
    "spent_wet_g": ("spent", "spent wet", "wet grounds", "spent grounds", "wet puck", "puck weight"),
    "water_temp_c": (
        *("temp", "temperature", "water temp", "water temperature", "brew temp", "brew temperature"),
        *("brewing temp", "brewing temperature", "kettle temp", "kettle temperature", "set temp"),
    ),
    "brew_time_s": (
        *("brew time", "brewing time", "shot time", "total time", "total brew time", "extraction time"),
        *("contact time", "steep time", "pull time", "duration"),
    ),
    "first_drip_s": ("first drip", "first drop", "first drops", "time to first drip", "time to first drop"),
    "preinfusion_s": ("preinfusion", "pre infusion", "preinfusion time", "pre infusion time", "bloom time"),
    "pressure_bar": ("pressure", "peak pressure", "max pressure", "brew pressure", "bar"),
    "channeling": ("channelling", "channels", "channeling seen", "channelling seen"),
    "discarded": ("dumped", "binned", "poured away", "thrown away"),
    "void_reason": ("void", "void because"),
    "changed": ("change", "what changed", "changes"),
    "mass_balance": ("balance",),
    "sample_no": ("sample", "sample number", "vial", "drop"),
    "reading_no": ("reading", "reading number"),
    "tds_pct": (
        *("tds", "strength", "concentration", "dissolved solids", "total dissolved solids", "tds reading"),
        *("refractometer reading", "brix", "brew strength"),
    ),
    "instrument_id": ("instrument",),
    "reading_scale": ("scale of reading",),
    "sample_temp_c": ("sample temp", "sample temperature", "reading temp"),
    "sample_filtered": ("filtered", "syringe filtered"),
    "served_as": ("served",),
    "read_by": ("reader", "reading by", "measured by", "reading taken by"),
    "attribute": ("descriptor", "attribute name"),
    "blind_code": ("code", "cup code", "sample code"),
    "cup_no": ("cup", "cup number"),
    "assessor": ("taster", "panelist", "panellist", "judge", "cupper"),
    "score": ("rating", "intensity"),
    "position": ("serving position",),
    "replicate": ("rep", "repeat"),
    "milk_g": ("milk", "milk weight"),
    "cup_temp_c": ("cup temp", "cup temperature", "tasting temp", "tasting temperature"),
    "test_id": ("test",),
    "brew_id_a": ("brew a", "sample a"),
    "brew_id_b": ("brew b", "sample b"),
    "chosen_brew_id": ("chosen", "choice", "chosen brew", "picked"),
    "fraction_no": ("fraction", "fraction number"),
    "start_s": ("start", "start time"),
    "end_s": ("end", "end time", "stop"),
    "mass_g": ("mass", "weight"),
    "t_s": ("time", "t", "elapsed", "elapsed time", "seconds"),
    "withdrawn_g": ("withdrawn", "drawn off"),
    "flow_g_s": ("flow", "flow rate"),
    "drying_id": ("oven run", "drying run", "drying"),
    "weighing_no": ("weighing", "weighing number"),
    "is_blank": ("blank", "blank dish"),
    "dish_g": ("dish", "empty dish", "dish weight", "dish mass", "empty dish weight"),
    "dish_plus_sample_g": (
        *("dish plus sample", "dish and sample", "dish with sample", "dish sample", "wet dish", "dish before drying"),
        *("dish plus beverage", "dish and beverage", "dish with beverage"),
    ),
    "dish_plus_dry_g": (
        *("dish plus dry", "dish and dry", "dish dry", "dish plus residue", "dish and residue", "dish with residue"),
        *("dish residue", "dry dish", "dried dish", "dish after drying"),
    ),
    "dry_temp_c": ("oven temp", "oven temperature", "drying temp", "drying temperature"),
    "aim": ("goal",),
    "finer_is": ("finer", "finer direction"),
    "step_um": ("step", "microns per step", "step size"),
    "resolution": ("readability", "division"),
    "standard_uncertainty": ("uncertainty",),
    "unit": ("units",),
    "reference_value": ("reference", "expected", "expected value"),
    "observed_value": ("observed", "measured", "measured value"),
    "check_kind": ("check", "kind of check", "check type"),
}
"""Words for a column wherever a table has it."""

_DATE_WORDS = ("date", "day", "when", "date time", "datetime", "timestamp", "date and time")
ONLY_IN: dict[str, dict[str, tuple[str, ...]]] = {
    "brews": {"brewed_at": (*_DATE_WORDS, "brew date", "brewed", "brewed on", "date brewed", "brewing date")},
    "readings": {"read_at": (*_DATE_WORDS, "time")},
    "calibrations": {"checked_at": (*_DATE_WORDS, "time", "checked", "checked on"), "check_kind": ("kind", "type")},
    "dryings": {
        "dried_at": (*_DATE_WORDS, "time", "dried", "dried on", "weighed", "weighed at"),
        "instrument_id": ("oven", "drying oven"),
        "replicate": ("dish no", "dish number"),
        "dry_temp_c": ("temp", "temperature"),
    },
    "coffees": {"coffee_id": ("id", "code"), "name": ("coffee name",), "roasted_on": ("date",)},
    "lots": {"lot_id": ("id",), "roasted_on": ("date",)},
    "grinders": {"grinder_id": ("id",), "name": ("grinder name",)},
    "instruments": {"instrument_id": ("id",), "kind": ("type", "kind of instrument")},
    "attributes": {"kind": ("type",), "low": ("min", "minimum", "from"), "high": ("max", "maximum", "to")},
    "targets": {
        "low": ("lower", "min", "minimum", "lower limit", "from"),
        "high": ("upper", "max", "maximum", "upper limit", "to"),
        "aim": ("target",),
        "quantity": ("what",),
    },
    "choices": {"kind": ("type", "kind of test", "test type"), "correct": ("right",)},
    "fractions": {"fraction_no": ("cup", "cup number"), "start_s": ("from",), "end_s": ("to",)},
    "traces": {"beverage_g": ("weight", "mass")},
    "tastings": {"notes": ("tasting notes",)},
}
"""Words that name a column in one table only."""


def column_names(table: str) -> tuple[str, ...]:
    """Columns a sheet of this table may hold: the contract's, and for brews those of inline readings."""
    names = TABLES[table].column_names
    return (*names, *INLINE_READING_COLUMNS) if table == "brews" else names


@cache
def words_of(table: str) -> dict[str, str]:
    """Plain word or words to column, for one table.

    >>> words_of("brews")["dry coffee"]
    'dose_g'
    """
    only = ONLY_IN.get(table, {})
    index: dict[str, str] = {}
    for column in column_names(table):
        for word in WORDS.get(column, ()):
            index.setdefault(word, column)
    index.update({word: column for column, words in only.items() for word in words})
    index.update({plain(column): column for column in column_names(table)})
    return index


def columns_called(text: str) -> list[str]:
    """Columns that people mean by these words, those of a log of brews first; none where no table knows them.

    >>> columns_called("Dry coffee"), columns_called("Time")[:2], columns_called("Weather")
    (['dose_g'], ['time_of_day', 'brew_time_s'], [])
    """
    word = plain(text)
    meant = (
        ["time_of_day", *(["brew_time_s"] if word == OPEN_TIME else [])] if word in (OPEN_TIME, *CLOCK_WORDS) else []
    )
    meant += UNCLEAR.get(word, ())
    meant += [words_of(table)[word] for table in ("brews", *TABLES) if word in words_of(table)]
    return [name for name in dict.fromkeys(meant) if name == "time_of_day" or name in COLUMNS]
