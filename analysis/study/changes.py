"""What differs between two versions of a study, in words."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from analysis.effects.factors import difference_unit
from analysis.study.ranges import condition_words
from schemas.columns import COLUMNS
from schemas.study import Study, StudyFactor

SAID_NOWHERE = "not declared"


def changes(before: Study, after: Study) -> tuple[str, ...]:
    """What `after` changed, added or took out, one short phrase each; empty for the same declaration."""
    return (
        *_plain(before, after),
        *_factors(before, after),
        *_lists(before, after),
        *_keyed("grind reference of", _references(before), _references(after)),
        *_keyed("exclusion of", *({one.brew_id: one.reason for one in study.exclusions} for study in (before, after))),
        *_keyed("target for", _targets(before), _targets(after)),
        *_keyed("settings declared impossible:", _impossible(before), _impossible(after)),
    )


def _plain(before: Study, after: Study) -> Iterator[str]:
    if before.question != after.question:
        yield f'question reworded, it was "{before.question}"'
    for name in ("response", "method"):
        old, new = getattr(before, name), getattr(after, name)
        if old != new:
            yield f"{name} changed from {old or SAID_NOWHERE} to {new or SAID_NOWHERE}"
    old, new = before.difference_that_matters, after.difference_that_matters
    if old != new:
        was, now = (_amount(value, difference_unit(after.response)) for value in (old, new))
        yield f"difference that matters changed from {was} to {now}"


def _factors(before: Study, after: Study) -> Iterator[str]:
    old = {factor.name: factor for factor in before.factors}
    new = {factor.name: factor for factor in after.factors}
    for name, factor in new.items():
        if name not in old:
            yield f"factor added: {name}{', with its curve' if factor.curve else ''}"
        else:
            yield from _factor(old[name], factor)
    yield from (f"factor taken out: {name}" for name in old if name not in new)


def _factor(old: StudyFactor, new: StudyFactor) -> Iterator[str]:
    unit = COLUMNS[new.name].unit
    if old.curve != new.curve:
        yield f"curve of {new.name} {'added' if new.curve else 'taken out'}"
    if old.step != new.step:
        yield f"step of {new.name} changed from {_amount(old.step, unit)} to {_amount(new.step, unit)}"
    if (old.low, old.high) != (new.low, new.high):
        yield f"range of {new.name} changed from {_range(old, unit)} to {_range(new, unit)}"
    if old.levels != new.levels:
        yield f"levels of {new.name} changed from {_levels(old, unit)} to {_levels(new, unit)}"


def _lists(before: Study, after: Study) -> Iterator[str]:
    for name, word in (
        ("coffees", "coffee"),
        ("crosses", "cross"),
        ("blocks", "block"),
        ("whole_plot", "hard to change"),
    ):
        old, new = getattr(before, name), getattr(after, name)
        yield from (f"{word} added: {one}" for one in new if one not in old)
        yield from (f"{word} taken out: {one}" for one in old if one not in new)


def _keyed(what: str, old: Mapping[str, str], new: Mapping[str, str]) -> Iterator[str]:
    for key, value in new.items():
        said = f" ({value})" if value else ""
        if key not in old:
            yield f"{what} {key} added{said}"
        elif old[key] != value:
            yield f"{what} {key} changed from {old[key] or SAID_NOWHERE} to {value or SAID_NOWHERE}"
    yield from (f"{what} {key} taken out" for key in old if key not in new)


def _references(study: Study) -> dict[str, str]:
    return {f"{one.coffee_id} on {one.grinder_id} ({one.method})": one.grind_setting for one in study.grind_reference}


def _targets(study: Study) -> dict[str, str]:
    units = {one.response: COLUMNS[one.response].unit for one in study.targets}
    return {one.response: f"{one.low:g} to {one.high:g} {units[one.response]}".rstrip() for one in study.targets}


def _impossible(study: Study) -> dict[str, str]:
    return {condition_words(one.conditions): one.reason for one in study.impossible}


def _amount(value: float | None, unit: str) -> str:
    return SAID_NOWHERE if value is None else f"{value:g} {unit}".rstrip()


def _range(factor: StudyFactor, unit: str) -> str:
    if factor.low is None or factor.high is None:
        return SAID_NOWHERE
    return f"{factor.low:g} to {factor.high:g} {unit}".rstrip()


def _levels(factor: StudyFactor, unit: str) -> str:
    return f"{', '.join(f'{level:g}' for level in factor.levels)} {unit}".rstrip() if factor.levels else SAID_NOWHERE
