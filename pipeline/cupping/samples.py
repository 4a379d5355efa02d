"""What is to be tasted: brews or coffees, what the project folder knows of them, and what to beware of."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Literal

import polars as pl

from analysis.resemblance import resembles
from analysis.sensory.serving.caffeine import CUPPING_RATIO
from analysis.words import listed
from schemas.problem import ProblemError

Kind = Literal["brew", "coffee"]


@dataclass(frozen=True, slots=True, order=True)
class Sample:
    """A brew or a coffee; `g_per_ml`: grams of dry coffee to a ml of the cup, None where the masses are not known."""

    kind: Kind
    id: str
    g_per_ml: float | None = None
    brewed_by: str | None = None
    beverage_g: float | None = None


@dataclass(frozen=True)
class Known:
    """What the project folder has: rows of `brews` (current brews table) and of `coffees`."""

    brews: pl.DataFrame
    coffees: pl.DataFrame


@dataclass(frozen=True)
class Chosen:
    """The samples, each once, in the order of their ids, and remarks on them."""

    samples: tuple[Sample, ...]
    remarks: tuple[str, ...]


def choose_samples(
    known: Known, *, brews: Sequence[str] = (), coffees: Sequence[str] = (), study_id: str | None = None
) -> Chosen:
    """What was named; ids that are not there yet are kept and told of. ProblemError where there is nothing to taste."""
    named = [*brews, *(_of_study(known, study_id) if study_id is not None else ())]
    ids, coffee_ids = _cleaned(named, "brew"), _cleaned(coffees, "coffee")
    if not ids and not coffee_ids:
        raise ProblemError("What is to be tasted? Add --brew ID or --coffee ID (may be repeated), or --study ID.")
    rows = {row["brew_id"]: row for row in known.brews.filter(pl.col("brew_id").is_in(ids)).iter_rows(named=True)}
    void = [name for name in ids if rows.get(name, {}).get("void_reason")]
    if void:
        raise ProblemError(f"{listed(void)} {_are(void)} void, that is mis-recorded: leave {_it(void)} out.")
    samples = [_of_brew(name, rows.get(name, {})) for name in ids] + [Sample("coffee", name) for name in coffee_ids]
    remarks = [
        *_strangers(ids, known.brews["brew_id"].to_list(), "brew"),
        *_strangers(coffee_ids, known.coffees["coffee_id"].to_list(), "coffee"),
    ]
    poured = [name for name in ids if rows.get(name, {}).get("discarded")]
    if poured:
        remarks.append(f"{listed(poured)} {_are(poured)} marked as poured away.")
    return Chosen(tuple(sorted(samples, key=lambda one: (one.kind, one.id))), tuple(remarks))


def ratio_note(samples: Sequence[Sample]) -> str:
    """Whence the strength of the cups is known."""
    known = sum(one.g_per_ml is not None for one in samples)
    if known == len(samples):
        return "dose and liquid as weighed"
    assumed = f"1 g of coffee to {CUPPING_RATIO:g} ml assumed"
    return f"dose and liquid as weighed for {known}, {assumed} for the others" if known else assumed


def too_little(samples: Sequence[Sample], pours: Mapping[Sample, int], *, ml_per_cup: float) -> tuple[str, ...]:
    """Brews of which less is in the cup than the palates take; `pours` says how many cups of each are needed."""
    short = [one for one in samples if one.beverage_g is not None and one.beverage_g < ml_per_cup * pours[one]]
    if not short:
        return ()
    one = short[0]
    return (
        f"{listed([brew.id for brew in short])}: too little in the cup for all. {one.id} has {one.beverage_g:.0f} g, "
        f"{pours[one]} times {ml_per_cup:g} ml are needed. Let each palate have a brew of its own and name the coffee "
        "(--coffee), or lower --ml-per-cup.",
    )


def tasters_who_brewed(samples: Sequence[Sample], assessors: Sequence[str]) -> tuple[str, ...]:
    """Assessors who made one of the brews: they may know it again."""
    makers = {one.brewed_by.casefold() for one in samples if one.brewed_by}
    both = [name for name in assessors if name.casefold() in makers]
    if not both:
        return ()
    return (f"{listed(both)} brewed some of these cups and may know them again: let somebody else pour and code.",)


def _of_study(known: Known, study_id: str) -> list[str]:
    brews = known.brews.filter((pl.col("study_id") == study_id) & pl.col("void_reason").is_null())
    if brews.is_empty():
        studies = sorted(known.brews["study_id"].drop_nulls().unique().to_list())
        raise ProblemError(
            f"No brew of study {study_id} is in the project folder; there is {listed(studies) or 'none'}."
        )
    return [str(name) for name in brews["brew_id"]]


def _cleaned(names: Sequence[str], what: str) -> list[str]:
    stripped = [name.strip() for name in names]
    if "" in stripped:
        raise ProblemError(f"An empty {what} id says nothing; leave it out.")
    return list(dict.fromkeys(stripped))


def _of_brew(name: str, row: Mapping[str, Any]) -> Sample:
    dose, liquid = row.get("dose_g"), row.get("beverage_g") or row.get("water_g")
    strength = dose / liquid if dose and liquid else None
    return Sample("brew", name, strength, row.get("operator"), row.get("beverage_g"))


def _strangers(names: Sequence[str], known: list[str], what: str) -> list[str]:
    new = [name for name in names if name not in set(known)]
    if not new:
        return []
    alike = [f"{name} looks like {near}" for name in new if (near := resembles(name, known))]
    hint = f" {listed(alike)}: check the spelling." if alike else ""
    waits = " The key waits until they are ingested." if what == "brew" else ""
    return [f"Not in the project folder yet: {what if len(new) == 1 else f'{what}s'} {listed(new)}.{waits}{hint}"]


def _are(names: Sequence[str]) -> str:
    return "is" if len(names) == 1 else "are"


def _it(names: Sequence[str]) -> str:
    return "it" if len(names) == 1 else "them"
