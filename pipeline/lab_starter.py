"""What a new project folder starts with: two files whose comments say what each entry does."""

from __future__ import annotations

import re

LAB_TOML = """\
# The project folder's own settings. A line that starts with # does nothing; take the # away to use it.
# Whatever is not declared here is not assumed: it stays empty in the results, and the results say so.

name = ""            # what to call this lab on its pages
altitude_m = 0       # height above sea level in metres: water boils cooler higher up
timezone = "UTC"     # zone of times written without an offset, such as "Europe/Vienna"

[intake]
# A brew names a coffee, lot, grinder or instrument that you have not entered yet:
#   "stub"       makes an entry that holds its id only, and tells you what it still lacks
#   "set_aside"  keeps the brew out until you enter it
unknown_parents = "stub"

[uncertainty]
# Standard uncertainty (one standard deviation) of a weighing or a reading where the row names no instrument.
# Look it up in the maker's papers or from your own checks. Without an entry nothing is assumed, and the
# results name what they leave out.
# dose_g = 0.05       # g
# beverage_g = 0.1    # g
# water_g = 0.5       # g
# tds_pct = 0.02      # % dissolved solids
# moisture_pct = 0.3  # %, of the roasted coffee: counts in the yield on the dry dose
# What reads a setting counts too where its effect is asked for: an effect of a badly read setting comes out too small.
# water_temp_c = 0.5  # C
# pressure_bar = 0.2  # bar
# brew_time_s = 1     # s

[readings]
# Brix is not dissolved solids. A reading marked brix is kept, and turned into strength only by a factor that
# you have found on your own coffee: tds_pct = brix_factor * brix.
# brix_factor = 0.85

[drying]
# Oven-dried samples (table dryings). A dish is dry once its last two weighings differ by at most this share of
# what is left in it, or by one display step of the weighing scale.
constant_mass_pct = 0.5         # percent of the dry residue
# An oven drives off more than water. How uncertain that leaves the residue (one standard deviation) is yours to
# say; without an entry it is not counted, and the results say so.
# volatile_loss_u_pct = 1.0     # percent of the dry residue
# Drying ovens and hot dishes burn: follow the maker's manual and local workplace rules, and never leave a drying
# oven unattended.

# A correction of one instrument, found from reference checks: true value = (reading - offset) / slope.
# One block for each instrument; it applies to every reading taken on that instrument, and is shown.
# [correction.refractometer-1]
# offset = 0.02                 # %
# slope = 1.0
# standard_uncertainty = 0.01   # %, what the correction itself leaves open
# note = "against the oven, spring check"
# `brewtrials instruments` fits it from your reference checks and prints the block. There slope_u is what the slope
# leaves open: the uncertainty grows away from the strength `centre`. From low to high is where it was checked.
# Take the block out again and every number is as before: nothing stored is changed.
# slope_u = 0.002
# centre = 4.2                  # %
# low = 1.2                     # %
# high = 9.8                    # %

[checks]
# How far off a zero or reference check may read before it has failed. From the last check that an instrument passed
# before a failure to the next one that it passes, its readings are flagged as in doubt. Without an entry limits come
# from the checks themselves once there are 8 of a kind; with fewer no check passes or fails.
# zero_tolerance = 0.02         # % dissolved solids, either way
# reference_tolerance = 0.03    # % dissolved solids, either way
# reference_u = 0.01            # %, standard uncertainty of the reference solutions
# An instrument of its own unit, such as a weighing scale, has its own block.
# [checks.scale-1]
# reference_tolerance = 0.1     # g, in the unit of that instrument

# The dial setting that counts as zero. Without a block, the middle setting of that coffee's own brews is zero.
# [[grind_reference]]
# coffee_id = "coffee-1"
# grinder_id = "grinder-1"
# method = "espresso"
# grind_setting = "2.5"

[gate]
# Limits of `brewtrials gate`. A limit that is not set is not asked for.
min_brews = 1                   # at least this many brews
max_set_aside = 0               # at most this many rows set aside
# max_age_days = 7              # the newest brew is at most this old
# min_in_target_share = 0.9     # at least this share of judged brews meets its targets

[labels]
# Your own words for ids on pages and charts.
# coffee-1 = "House blend"

[constants]
# A column that none of your files has because it is always the same.
# method = "espresso"
# site = "bench"
"""

COLUMNS_TOML = """\
# What your own sheets look like. A line that starts with # does nothing; take the # away to use it.
# Usual headers, such as "Dose (g)", "Water temp °F" or "Brew time (mm:ss)", are understood without any entry.

# Settled once for each file from all of its rows; say it here if a file cannot tell.
# decimal_mark = ","                    # or "."
# date_order = "day_first"              # or "month_first"
# missing = ["NA", "-"]                 # what stands for an empty cell in your sheets
# ignore = ["Weather"]                  # own columns that need no mention at every ingest
# id_from = ["brewed_at", "operator"]   # what tells brews apart where a log has no brew_id

[columns]
# Your header = the column it is, with its unit where the header does not say it.
# "Kaffee" = "coffee_id"
# "Temp" = { column = "water_temp_c", unit = "F" }

[constants]
# What your sheets leave out because it is always the same.
# method = "espresso"

[words.method]
# Your word = the word of the list. For another column, write another section, such as [words.channeling].
# "V cone" = "pour_over"

[combine]
# An id made of several of your columns.
# coffee_id = { from = ["Farm", "Lot"], join = "-" }

# All of the above can be said for some files or sheets only; * stands for any letters.
# [files."panel*.csv"]
# table = "tastings"
# attributes = ["sweet", "bitter"]      # score columns: every filled cell becomes one tasting
# [sheets."Shots*"]
# table = "brews"
"""


def with_constant(text: str, column: str, value: str) -> str:
    r"""The text of `columns.toml` with one constant more, in the place kept for it or else below its heading.

    >>> with_constant('[constants]\n# method = "espresso"\n', "method", "moka")
    '[constants]\nmethod = "moka"\n'
    >>> with_constant("", "method", "moka")
    '[constants]\nmethod = "moka"\n'
    """
    entry = f'{column} = "{value}"'
    lines = text.splitlines()
    heading = next((at for at, line in enumerate(lines) if re.match(r"\s*\[\s*constants\s*\]", line)), None)
    if heading is None:
        return "\n".join([*lines, *([""] if lines else []), "[constants]", entry]) + "\n"
    end = next((at for at in range(heading + 1, len(lines)) if lines[at].lstrip().startswith("[")), len(lines))
    kept_place = re.compile(rf"\s*#\s*{re.escape(column)}\s*=")
    place = next((at for at in range(heading + 1, end) if kept_place.match(lines[at])), None)
    if place is None:
        lines.insert(heading + 1, entry)
    else:
        lines[place] = entry
    return "\n".join(lines) + "\n"
