"""Which brews belong to a study: those that carry its id, else those of its method and coffees."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import polars as pl

from analysis.words import count, method_word
from schemas.study import Study

FoundBy = Literal["study_id", "method and coffees"]
CHOICE_COLUMNS = ("brew_id", "study_id", "method", "coffee_id")
"""What `choose_brews` needs of a brew."""


@dataclass(frozen=True)
class ChosenBrews:
    """`brews` of a study, exclusions not yet taken out; `left_out` holds ids of brews that carry its id, by reason.

    `n_without_id` counts brews of the same method and coffees that carry no study_id and are not taken.
    """

    brews: pl.DataFrame
    found_by: FoundBy
    left_out: dict[str, tuple[str, ...]]
    n_without_id: int = 0


def choose_brews(brews: pl.DataFrame, study: Study) -> ChosenBrews:
    """The study's rows of any frame with `CHOICE_COLUMNS`, in their order."""
    carry = brews.filter(pl.col("study_id") == study.study_id)
    asked = brews if carry.is_empty() else carry
    other_method = pl.lit(value=False) if study.method is None else pl.col("method").ne_missing(study.method)
    other_coffee = ~pl.col("coffee_id").is_in(study.coffees).fill_null(value=False) if study.coffees else pl.lit(False)
    found = asked.filter(~other_method & ~other_coffee)
    if carry.is_empty():
        return ChosenBrews(found, "method and coffees", {})
    reasons = {
        f"of another method than {method_word(study.method or '')}": asked.filter(other_method),
        "of a coffee that the study does not name": asked.filter(~other_method & other_coffee),
    }
    left_out = {reason: tuple(rows["brew_id"]) for reason, rows in reasons.items() if rows.height}
    alike = brews.filter(pl.col("study_id").is_null() & ~other_method & ~other_coffee)
    return ChosenBrews(found, "study_id", left_out, alike.height)


def choice_words(study: Study, chosen: ChosenBrews) -> str:
    """How the study's brews were found, as a sentence."""
    found = count(chosen.brews.height, "brew")
    if chosen.found_by == "study_id":
        said = f"{found} with study_id {study.study_id}."
        if not chosen.n_without_id:
            return said
        n = count(chosen.n_without_id, "other brew like these carries", "other brews like these carry")
        return f"{said} {n} no study_id, so not counted here; without --study all count."
    of = [method_word(study.method)] if study.method else []
    of += [", ".join(study.coffees)] if study.coffees else []
    what = f"brews of {' and of '.join(of)}" if of else "brews of the log"
    return f"No brew carries study_id {study.study_id}: all {what} stand in for it ({found})."
