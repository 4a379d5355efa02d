"""A study applied to brew facts: the rows its analysis rests on, and everything left out with its reason."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from difflib import get_close_matches

import polars as pl

from analysis.study.choose import ChosenBrews, FoundBy, choice_words, choose_brews
from analysis.study.ranges import BrewedRange, brewed_ranges, brewed_though_impossible
from analysis.words import count, listed
from schemas.columns import COLUMNS
from schemas.study import Exclusion, Study

MOST_IDS = 8
"""Brews named in one sentence."""
GRINDS = ("grind_steps_finer", "grind_um_finer")


@dataclass(frozen=True)
class StudyRows:
    """`brews` are rows of the facts in their order, void ones still among them.

    `n_before` brews were found (`found_by`); `left_out` counts brews by reason and `left_out_ids` names them;
    `excluded` are the declared exclusions that met a brew of the study, `ranges` the factors' declared and brewed
    ranges, `notes` what else is worth knowing, one sentence each, `found` how the brews were found.
    """

    study: Study
    brews: pl.DataFrame
    found_by: FoundBy
    found: str
    n_before: int
    left_out: dict[str, int]
    left_out_ids: dict[str, tuple[str, ...]]
    excluded: tuple[Exclusion, ...]
    ranges: tuple[BrewedRange, ...]
    notes: tuple[str, ...]

    @property
    def said(self) -> tuple[str, ...]:
        """How the brews were found, what was left out and why, and the notes: sentences in that order."""
        total = sum(self.left_out.values())
        reasons = ", ".join(f"{n} {reason}" for reason, n in self.left_out.items())
        left = (f"{total} of {count(self.n_before, 'brew')} left out: {reasons}.",) if total else ()
        return (self.found, *left, *self.notes)


def apply_study(facts: pl.DataFrame, study: Study) -> StudyRows:
    """Choose the study's rows of `facts` (FACT_COLUMNS, derived under the study's own grind references).

    An excluded brew is left out here and nowhere else. Nothing is refused: an empty `brews` is for the caller to judge.
    """
    chosen = choose_brews(facts, study)
    there = set(chosen.brews["brew_id"])
    excluded = tuple(exclusion for exclusion in study.exclusions if exclusion.brew_id in there)
    brews = chosen.brews.filter(~pl.col("brew_id").is_in([exclusion.brew_id for exclusion in excluded]))
    ids = dict(chosen.left_out)
    for exclusion in excluded:
        reason = f"excluded ({exclusion.reason})"
        ids[reason] = (*ids.get(reason, ()), exclusion.brew_id)
    ranges = brewed_ranges(brews, study)
    return StudyRows(
        study=study,
        brews=brews,
        found_by=chosen.found_by,
        found=choice_words(study, chosen),
        n_before=chosen.brews.height + sum(map(len, chosen.left_out.values())),
        left_out={reason: len(names) for reason, names in ids.items()},
        left_out_ids=ids,
        excluded=excluded,
        ranges=ranges,
        notes=tuple(_notes(facts, chosen, brews, study, ranges)),
    )


def _notes(
    facts: pl.DataFrame, chosen: ChosenBrews, brews: pl.DataFrame, study: Study, ranges: tuple[BrewedRange, ...]
) -> Iterator[str]:
    yield from _exclusions_that_met_nothing(facts, chosen, study)
    yield from _coffees_not_there(facts, brews, study)
    for one in ranges:
        if one.outside:
            unit = COLUMNS[one.name].unit
            yield (
                f"{one.name} went outside the declared range {one.low:g} to {one.high:g} {unit} in "
                f"{count(len(one.outside), 'brew')}: {named(one.outside)}."
            )
    for words, ids in brewed_though_impossible(brews, study).items():
        yield f"Declared impossible, yet brewed ({words}): {named(ids)}."
    yield from _zero_not_frozen(brews, study)


def _exclusions_that_met_nothing(facts: pl.DataFrame, chosen: ChosenBrews, study: Study) -> Iterator[str]:
    known, mine = set(facts["brew_id"]), set(chosen.brews["brew_id"])
    for exclusion in study.exclusions:
        if exclusion.brew_id not in known:
            near = get_close_matches(exclusion.brew_id, sorted(known), n=1)
            hint = f" Did you mean {near[0]}?" if near else ""
            yield f"{exclusion.brew_id} is excluded, and the log has no such brew.{hint}"
        elif exclusion.brew_id not in mine:
            yield f"{exclusion.brew_id} is excluded, and is no brew of this study."


def _coffees_not_there(facts: pl.DataFrame, brews: pl.DataFrame, study: Study) -> Iterator[str]:
    known, brewed = set(facts["coffee_id"]), set(brews["coffee_id"])
    for coffee in study.coffees:
        if coffee not in known:
            near = get_close_matches(coffee, sorted(name for name in known if name), n=1)
            hint = f" Did you mean {near[0]}?" if near else ""
            yield f"The study names the coffee {coffee}, and the log has no brew of it.{hint}"
        elif coffee not in brewed:
            yield f"The study names the coffee {coffee}, and has no brew of it yet."


def _zero_not_frozen(brews: pl.DataFrame, study: Study) -> Iterator[str]:
    """A zero that is a median moves with every brew that comes in."""
    if not set(GRINDS) & set(study.factor_names):
        return
    loose = brews.filter(pl.col("grind_reference_note").str.starts_with("median").fill_null(value=False))
    places = loose.select("coffee_id", "grinder_id", "method").unique(maintain_order=True)
    declared = {(one.coffee_id, one.grinder_id, one.method): one.grind_setting for one in study.grind_reference}
    missing = []
    for coffee, grinder, method in places.iter_rows():
        setting = declared.get((coffee, grinder, method))
        if setting is None:
            missing.append(f"{coffee} on {grinder}")
        else:
            yield (
                f'The grind reference "{setting}" for {coffee} on {grinder} cannot be read on that dial; the middle '
                "setting is zero instead."
            )
    if missing:
        yield (
            f"Grind zero is not frozen for {listed(missing)}: it is the middle setting of the brews and moves as they "
            "come in. A [[study.grind_reference]] freezes it."
        )


def named(ids: tuple[str, ...]) -> str:
    """Ids in a sentence, the first `MOST_IDS` of many.

    >>> named(("a", "b")), named(tuple("abcdefghij"))
    ('a, b', 'a, b, c, d, e, f, g, h and 2 more')
    """
    more = f" and {len(ids) - MOST_IDS} more" if len(ids) > MOST_IDS else ""
    return ", ".join(ids[:MOST_IDS]) + more
