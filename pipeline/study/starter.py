"""The `study.toml` that a lab starts with: everything explained, nothing switched on."""

from __future__ import annotations

from pathlib import Path

from pipeline.lab import require_lab
from pipeline.study.read import STUDY_FILE
from schemas.problem import ProblemError

STUDY_TOML = """\
# What a study asks, said before its brews. A line that starts with # does nothing; take the # away to use it.
# `brewtrials ingest` keeps this file with the brews that come in, so that anybody can see later what was planned and
# what was added once the numbers were there. Columns are named as in `brewtrials facts`.

# [[study]]
# study_id = "espresso-map"                   # the word in the column study_id of its brews
# question = "How much does grinding finer raise the yield, and where does that stop?"
# response = "extraction_yield_pct"           # the column to explain
# method = "espresso"                         # leave out where several methods are meant
# coffees = ["coffee-1", "coffee-2"]          # leave out where all coffees are meant
# blocks = ["session_id", "operator"]         # columns whose levels may differ
# whole_plot = ["grinder_id", "coffee_id"]    # what stays put from one brew to the next
# crosses = ["grind_steps_finer:water_temp_c"]  # does one matter more or less with the other?
# difference_that_matters = 0.5               # in the response's unit; of a yield or strength in %: points

# One block for each setting whose effect is asked for.
# [[study.factor]]
# name = "grind_steps_finer"
# step = 1                                    # the change that counts in practice, in the column's unit
# low = -2                                    # the range that will be brewed
# high = 2
# levels = [-2, -1, 0, 1, 2]                  # the settings to brew at
# curve = true                                # may it bend, such as a yield that has a top?

# [[study.factor]]
# name = "water_temp_c"
# step = 2
# low = 90
# high = 95
# hard_to_change = true                       # stays put from one brew to the next

# The dial setting that counts as zero in this study, whatever comes in later. The method is the study's.
# [[study.grind_reference]]
# coffee_id = "coffee-1"
# grinder_id = "grinder-1"
# grind_setting = "2.5"

# Where the brews should land, ends included, in the column's unit.
# [[study.target]]
# response = "extraction_yield_pct"
# low = 19
# high = 21

# Settings that the kit cannot brew: all bounds of one block together.
# [[study.impossible]]
# grind_steps_finer = { at_least = 2 }
# water_temp_c = { at_least = 94 }
# reason = "the shot chokes"

# A brew left out of this study, and why. It stays in the log and is shown as left out.
# [[study.exclusion]]
# brew_id = "b-017"
# reason = "wrong basket"

# Another study begins with another [[study]]; commands then take --study ID.
"""


def start_study(lab_dir: Path) -> Path:
    """Write a `study.toml` to fill in and return its path; one that is there is never written over."""
    path = require_lab(lab_dir) / STUDY_FILE
    try:
        with path.open("x", encoding="utf-8", newline="\n") as file:
            file.write(STUDY_TOML)
    except FileExistsError as error:
        raise ProblemError(f"{path} is there already and was left as it is. Write your study into it.") from error
    except OSError as error:
        raise ProblemError(f"{path} could not be written: {error.strerror}.") from error
    return path
