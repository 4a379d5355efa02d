"""The blocks below one `[[study]]`: factors, grind references, exclusions, targets, settings the kit cannot brew."""

from __future__ import annotations

from collections.abc import Sequence

from analysis.effects.factors import FACTORS, RESPONSES
from pipeline.study.entries import Block
from schemas.columns import COLUMNS
from schemas.lab import GrindReference
from schemas.methods import METHODS
from schemas.study import Condition, Exclusion, Impossible, StudyFactor, Target

FACTOR_KEYS = ("name", "step", "low", "high", "levels", "hard_to_change", "curve")
REFERENCE_KEYS = ("coffee_id", "grinder_id", "method", "grind_setting")
SIDES = ("at_least", "at_most")


def read_factors(blocks: Sequence[Block]) -> tuple[StudyFactor, ...]:
    """The `[[study.factor]]` blocks of one study."""
    found = tuple(_factor(block) for block in blocks)
    _once(blocks, "name", [factor.name for factor in found])
    return found


def _factor(block: Block) -> StudyFactor:
    block.only_known(FACTOR_KEYS)
    block.needs("name")
    name = block.text("name", one_of=FACTORS)
    if FACTORS[name].is_yes_no:
        for key in ("step", "low", "high", "levels", "curve"):
            if key in block.entries:
                raise block.problem(key, f"does not go with {name}, which is yes or no; take it out.")
    levels = block.numbers("levels")
    if len(levels) == 1:
        raise block.problem("levels", "holds one setting; a factor needs at least two.")
    low, high = _range(block, levels)
    factor = StudyFactor(
        name=name,
        step=block.number("step"),
        low=low,
        high=high,
        levels=levels,
        hard_to_change=block.yes_no("hard_to_change"),
        curve=block.yes_no("curve"),
    )
    _check_factor(block, factor)
    return factor


def _range(block: Block, levels: tuple[float, ...]) -> tuple[float | None, float | None]:
    """The declared range; without one, the ends of the levels."""
    for key, needed in (("low", "high"), ("high", "low")):
        if key in block.entries and needed not in block.entries:
            raise block.problem(key, f"needs {needed} beside it: the range that will be brewed.")
    low, high = block.number("low"), block.number("high")
    if low is None or high is None:
        return (levels[0], levels[-1]) if levels else (None, None)
    if low >= high:
        same = "the same as" if low == high else "above"
        raise block.problem("low", f"is {low:g}, {same} high {high:g}. Correct the two.")
    return low, high


def _check_factor(block: Block, factor: StudyFactor) -> None:
    unit, column = COLUMNS[factor.name].unit, COLUMNS[factor.name]
    if factor.step is not None and factor.step <= 0:
        raise block.problem("step", f"is {factor.step:g}; it must be more than 0 {unit}.")
    if factor.low is None or factor.high is None:
        return
    if factor.step is not None and factor.step > factor.high - factor.low:
        raise block.problem(
            "step", f"is {factor.step:g} {unit}, more than the range {factor.low:g} to {factor.high:g}. Correct one."
        )
    for level in factor.levels:
        if not factor.low <= level <= factor.high:
            raise block.problem("levels", f"holds {level:g}, outside the range {factor.low:g} to {factor.high:g}.")
    for key, value in (("low", factor.low), ("high", factor.high)):
        if (column.low is not None and value < column.low) or (column.high is not None and value > column.high):
            where = key if key in block.entries else "levels"
            raise block.problem(where, f"holds {value:g} {unit}, beyond what a log may hold for {factor.name}.")


def read_references(
    blocks: Sequence[Block], method: str | None, coffees: tuple[str, ...]
) -> tuple[GrindReference, ...]:
    """The `[[study.grind_reference]]` blocks of one study; the method is the study's."""
    found = tuple(_reference(block, method) for block in blocks)
    for place, (block, reference) in enumerate(zip(blocks, found, strict=True)):
        if coffees and reference.coffee_id not in coffees:
            raise block.problem("coffee_id", f'is "{reference.coffee_id}", which is not among coffees of this study.')
        if any(_place(reference) == _place(other) for other in found[:place]):
            raise block.problem("", "is the second one for this coffee, grinder and method; keep one.")
    return found


def _place(reference: GrindReference) -> tuple[str, str, str]:
    return reference.coffee_id, reference.grinder_id, reference.method


def _reference(block: Block, method: str | None) -> GrindReference:
    block.only_known(("coffee_id", "grinder_id", "grind_setting") if method else REFERENCE_KEYS)
    block.needs("coffee_id", "grinder_id", "grind_setting", *(() if method else ("method",)))
    dial = block.entries["grind_setting"]
    is_number = isinstance(dial, int | float) and not isinstance(dial, bool)
    return GrindReference(
        coffee_id=block.text("coffee_id"),
        grinder_id=block.text("grinder_id"),
        method=method or block.text("method", one_of=METHODS),
        grind_setting=str(dial) if is_number else block.text("grind_setting"),
    )


def read_exclusions(blocks: Sequence[Block]) -> tuple[Exclusion, ...]:
    """The `[[study.exclusion]]` blocks of one study: no brew is left out without a reason."""
    for block in blocks:
        block.only_known(("brew_id", "reason"))
        block.needs("brew_id", "reason")
    found = tuple(Exclusion(block.text("brew_id"), block.text("reason")) for block in blocks)
    _once(blocks, "brew_id", [exclusion.brew_id for exclusion in found])
    return found


def read_targets(blocks: Sequence[Block]) -> tuple[Target, ...]:
    """The `[[study.target]]` blocks of one study."""
    found = []
    for block in blocks:
        block.only_known(("response", "low", "high"))
        block.needs("response", "low", "high")
        low, high = block.amount("low"), block.amount("high")
        if low >= high:
            raise block.problem("low", f"is {low:g}, not below high {high:g}. Correct the two.")
        found.append(Target(block.text("response", one_of=RESPONSES), low, high))
    _once(blocks, "response", [target.response for target in found])
    return tuple(found)


def read_impossible(blocks: Sequence[Block], factors: tuple[str, ...]) -> tuple[Impossible, ...]:
    """The `[[study.impossible]]` blocks of one study: bounds on its factors that hold together, never a formula."""
    return tuple(_impossible(block, factors) for block in blocks)


def _impossible(block: Block, factors: tuple[str, ...]) -> Impossible:
    block.only_known((*factors, "reason"))
    conditions = tuple(_condition(block, name) for name in block.entries if name != "reason")
    if not conditions:
        raise block.problem("", "names no factor; write one such as water_temp_c = { at_least = 96 }.")
    return Impossible(conditions, block.text("reason") if "reason" in block.entries else "")


def _condition(block: Block, name: str) -> Condition:
    sides = block.entries[name]
    if not isinstance(sides, dict) or not sides or not set(sides) <= set(SIDES):
        raise block.problem(name, "should say at_least, at_most or both: { at_least = 96 }.")
    bounds = {side: block.file.number(block.name, name, value) for side, value in sides.items()}
    if len(bounds) == 2 and bounds["at_least"] > bounds["at_most"]:
        raise block.problem(
            name, f"wants at least {bounds['at_least']:g} and at most {bounds['at_most']:g}: never true."
        )
    return Condition(name, **bounds)


def _once(blocks: Sequence[Block], key: str, names: Sequence[str]) -> None:
    for block, name in zip(blocks, names, strict=True):
        if names.count(name) > 1 and block is not blocks[names.index(name)]:
            raise block.problem(key, f"names {name} a second time in this study; name it once.")
