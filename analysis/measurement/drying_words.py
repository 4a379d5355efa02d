"""Strengths by drying in sentences, refusals included, and the caution that belongs beside every oven."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Sequence

from analysis.measurement.component import share_words
from analysis.measurement.drying import DriedBrew, Drying, NotDried
from analysis.measurement.drying_dishes import Dish, State
from analysis.measurement.drying_scatter import DishScatter
from analysis.words import count, listed, method_word, number, sentence, span

OVEN_CAUTION = (
    "Drying ovens and hot dishes burn. Follow the maker's manual and your workplace's rules, use tongs and gloves, and "
    "never leave a drying oven unattended."
)
DIGITS = 3
LEFT_OUT: dict[State, str] = {
    "weighed once": "weighed once only",
    "still losing": "still losing mass",
    "gained": "heavier at the last weighing than before",
    "unusable": "without usable weights",
}
REFUSED: dict[State, tuple[str, str]] = {
    "weighed once": (
        "weighed only once, so nothing shows that it was dry",
        "Dry it again, let it cool under cover, weigh again, and enter that as the next weighing_no.",
    ),
    "still losing": (
        "still losing mass at the last weighing",
        "Dry it again, let it cool under cover, and weigh until two weighings agree.",
    ),
    "gained": (
        "heavier at the last weighing than before, so it took up moisture or was mixed up",
        "Let dishes cool in a closed, dry vessel, and weigh until two weighings agree.",
    ),
    "unusable": ("without usable weights", "Check dish_g and dish_plus_sample_g of the dish."),
}
"""Why a dish does not count, and what to do."""


def dried_sentences(brew: DriedBrew, *, notes: Collection[str] | None = None) -> tuple[str, ...]:
    """A brew's strength by drying: value, interval, what it rests on, shares, dishes left out, what is not counted.

    `notes` are those of its notes to say here, where some are said of all brews together; by default all.
    """
    said = [_value(brew)]
    if brew.budget is not None and (shares := share_words(brew.budget.shares())):
        said.append(f"its uncertainty comes from {shares}")
    if brew.left_out:
        said.append(f"left out: {_left_out(brew.left_out)}")
    own = [note for note in brew.notes if notes is None or note in notes]
    return tuple(sentence(text) for text in (*said, *own))


def common_notes(brews: Sequence[DriedBrew]) -> tuple[str, ...]:
    """Notes that several of these brews carry, each said once with how many of them it holds for."""
    counts = Counter(note for brew in brews for note in brew.notes)
    return tuple(
        sentence(f"{f'all {len(brews)} brews' if n == len(brews) else f'{n} of {len(brews)} brews'}: {note}")
        for note, n in counts.items()
        if n > 1
    )


def own_notes(brews: Sequence[DriedBrew]) -> frozenset[str]:
    """Notes that one of these brews alone carries."""
    counts = Counter(note for brew in brews for note in brew.notes)
    return frozenset(note for note, n in counts.items() if n == 1)


def refusal_sentence(brew: NotDried) -> str:
    """Why a brew has no strength by drying, the upper bound it has instead, and what to do."""
    states = [state for _, state in brew.dishes]
    worst = max(REFUSED, key=lambda state: (states.count(state), -list(REFUSED).index(state)))
    why, remedy = REFUSED[worst]
    if len(set(states)) > 1:
        dishes = _left_out(brew.dishes)
    elif len(states) == 1:
        dishes = f"its dish was {why}"
    else:
        dishes = f"each of its {len(states)} dishes was {why}"
    problems = listed(sorted({dish.problem for dish, _ in brew.dishes if dish.problem}))
    details = f" ({problems})" if problems else ""
    bound = ""
    if brew.at_most_pct is not None:
        bound = (
            f" What was left is an upper bound: at most {number(brew.at_most_pct, DIGITS)} % dissolved solids "
            f"({count(brew.n_bounding, 'dish', 'dishes')}, weighing errors and volatile loss aside)."
        )
    return sentence(f"brew {brew.brew_id} has no strength by drying in {brew.oven}: {dishes}{details}.{bound} {remedy}")


def scatter_sentence(oven: str, method: str, scatter: DishScatter) -> str:
    """How far dishes of one brew scatter in an oven, and what it rests on."""
    whose = "all methods" if scatter.of_oven else method_word(method)
    return sentence(
        f"dishes of one brew dried in {oven} scatter by {number(100 * scatter.seen, 2)} % of the strength "
        f"(standard deviation; {count(scatter.n_brews, 'brew')} with two or more dishes, "
        f"{count(scatter.df, 'degree')} of freedom, {whose}); display steps alone would give "
        f"{number(100 * scatter.weighing, 2)} %"
    )


def drying_sentences(drying: Drying) -> tuple[str, ...]:
    """The worksheet as a whole: how many brews and dishes have a strength, how many do not, and their scatter."""
    n_dishes = sum(len(brew.dishes) for brew in drying.brews)
    said = [
        f"{count(len(drying.brews), 'brew')} with a strength by drying ({count(n_dishes, 'dish', 'dishes')}); dry "
        f"means that the last two weighings differ by at most {number(drying.constant_mass_pct, 2)} % of the residue "
        "or one display step"
    ]
    if drying.refused:
        said.append(f"{count(len(drying.refused), 'brew')} without a strength by drying; why stands below")
    said += [scatter_sentence(oven, method, scatter) for (oven, method), scatter in sorted(drying.scatter.items())]
    return tuple(sentence(text) for text in said)


def _value(brew: DriedBrew) -> str:
    budget = brew.budget
    interval = (
        "no interval"
        if budget is None
        else f"{100 * budget.level:g} % interval {span(budget.low, budget.high, DIGITS)} %, coverage factor "
        f"{number(budget.coverage_factor, 2)}"
    )
    temperatures = sorted({one.dish.temp_c for one in brew.dishes if one.dish.temp_c is not None})
    at = f" at {listed([number(value, 0) for value in temperatures])} C" if temperatures else ""
    return (
        f"brew {brew.brew_id}: {number(brew.tds_pct, DIGITS)} % dissolved solids by drying ({interval}; "
        f"{count(len(brew.dishes), 'dish', 'dishes')} dried in {brew.oven}{at})"
    )


def _left_out(dishes: tuple[tuple[Dish, State], ...]) -> str:
    counts = Counter(state for _, state in dishes)
    return listed([f"{count(n, 'dish', 'dishes')} {LEFT_OUT[state]}" for state, n in sorted(counts.items())])
