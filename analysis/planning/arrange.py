"""Runs spread over sessions and put in random order; what is hard to change stays together."""

from __future__ import annotations

import numpy as np

from analysis.mixed.arrays import Floats
from analysis.planning.factors import coded_settings
from analysis.planning.model import PlanModel
from analysis.planning.order import Order, deal_sessions, order_runs
from analysis.planning.planned import Plan, PlannedRun
from analysis.planning.request import PlanRequest
from analysis.words import count, listed


def arrange(
    asked: PlanRequest,
    model: PlanModel,
    settings: Floats,
    coffees: list[str],
    *,
    rng: np.random.Generator,
    aliases: tuple[str, ...] = (),
    notes: tuple[str, ...] = (),
) -> Plan:
    """Spread runs over sessions, then put them in random order, whole plots together."""
    columns = model.columns(coded_settings(settings, asked.factors))
    held = [j for j, factor in enumerate(asked.factors) if factor.hard_to_change]
    session = deal_sessions(
        columns, _spread_evenly(coffees, settings[:, held], asked.sessions), asked.sessions, rng=rng
    )
    keys = [
        (coffee if asked.coffee_hard_to_change else "", *(row[j] for j in held))
        for coffee, row in zip(coffees, settings, strict=True)
    ]
    stays = bool(held) or asked.coffee_hard_to_change
    order = order_runs(session, keys if stays else [0] * len(keys), rng=rng, rounds=asked.resets if stays else 1)
    hard = (*(asked.factors[j].name for j in held), *(("coffee_id",) if asked.coffee_hard_to_change else ()))
    return Plan(
        asked, model, _runs(settings, coffees, order), hard, aliases, (*notes, *_hard_notes(asked, order, held))
    )


def _spread_evenly(coffees: list[str], held: Floats, n_sessions: int) -> list[object]:
    """What every session gets evenly: coffee and hard setting together where there are enough runs of each."""
    both = [(coffee, *row) for coffee, row in zip(coffees, held.tolist(), strict=True)]
    fewest = min(both.count(one) for one in set(both))
    return list(both) if fewest >= n_sessions else list(coffees)


def _runs(settings: Floats, coffees: list[str], order: Order) -> tuple[PlannedRun, ...]:
    return tuple(
        PlannedRun(
            coffees[row],
            tuple(float(value) for value in settings[row]),
            int(order.session[row]) + 1,
            int(order.whole_plot[row]) + 1,
            int(order.place[row]) + 1,
        )
        for row in order.sequence()
    )


def _hard_notes(asked: PlanRequest, order: Order, held: list[int]) -> tuple[str, ...]:
    if not held:
        return ()
    nouns = listed([asked.factors[j].noun for j in held])
    plots = len(np.unique(order.whole_plot))
    return (
        f"The {nouns} is hard to change and stays put within {count(plots, 'whole plot')} of "
        f"{count(len(order.place), 'brew')}: what it does rests on how often it is set anew, not on how many brews.",
    )
