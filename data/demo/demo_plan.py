"""The plan of the campaign: sessions on days, and in each session which brews are to be made.

Factors are dealt like cards, session by session: every level about equally often, shuffled, so that grind,
temperature and ratio vary within every session and hang together with nothing.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from typing import TypeVar

import numpy as np
from demo_world import (
    BATCH_BREW,
    COLD_BREW,
    CUPPING,
    ESPRESSO,
    IMMERSION,
    OPERATORS,
    POUR_OVER,
    Model,
)

T = TypeVar("T")


@dataclass(frozen=True)
class Planned:
    """One brew as planned: `steps_finer` in dial units of its grinder against the coffee's reference."""

    brew_id: str
    model: Model
    at: datetime
    session_id: str
    run_order: int
    operator: str
    coffee_id: str
    grinder_id: str
    steps_finer: float
    water_temp_c: float
    ratio: float
    instrument_id: str
    scale_id: str
    study_id: str = ""
    recipe_id: str = ""
    bypass_per_dose: float = 0.0
    practice: bool = False


@dataclass(frozen=True)
class Levels:
    """What is dealt in one part of the campaign."""

    steps: dict[str, tuple[float, ...]]
    temps_c: tuple[float, ...]
    ratios: tuple[float, ...]


def deal(levels: Sequence[T], sessions: int, per_session: int, rng: np.random.Generator) -> list[list[T]]:
    """For each session its hand of levels: every level equally often (as far as it goes), in random order."""
    cards = [levels[i % len(levels)] for i in range(sessions * per_session)]
    hands = [cards[s * per_session : (s + 1) * per_session] for s in range(sessions)]
    return [[hand[i] for i in rng.permutation(per_session)] for hand in hands]


def session_days(first: date, count: int, every: int) -> list[date]:
    """`count` days, `every` days apart, weekends moved to Monday."""
    days = [first + timedelta(days=every * i) for i in range(count)]
    return [day + timedelta(days=(0, 0, 0, 0, 0, 2, 1)[day.weekday()]) for day in days]


def campaign(
    model: Model,
    prefix: str,
    days: Sequence[date],
    per_session: int,
    levels: Levels,
    rng: np.random.Generator,
    *,
    start: time,
    minutes: int,
    scale_id: str,
    study_id: str,
    people: Sequence[str] = OPERATORS,
    first_number: int = 1,
    practice: bool = False,
) -> list[Planned]:
    """The brews of one method: sessions on `days`, the grinders of `levels` in turn from session to session."""
    sessions, grinders = len(days), list(levels.steps)
    temps = deal(levels.temps_c, sessions, per_session, rng)
    ratios = deal(levels.ratios, sessions, per_session, rng)
    coffees = deal(model.coffees, sessions, per_session, rng)
    workers = deal(people, sessions, per_session, rng)
    steps = {name: deal(dialled, sessions, per_session, rng) for name, dialled in levels.steps.items()}
    brews = []
    for i in range(sessions * per_session):
        session, run = divmod(i, per_session)
        grinder_id = grinders[session % len(grinders)]
        brews.append(
            Planned(
                brew_id=f"{prefix}-{first_number + i:03d}",
                model=model,
                at=datetime.combine(days[session], start) + timedelta(minutes=minutes * run),
                session_id=f"{prefix.lower()}-{days[session]:%m%d}",
                run_order=run + 1,
                operator=workers[session][run],
                coffee_id=coffees[session][run],
                grinder_id=grinder_id,
                steps_finer=steps[grinder_id][session][run],
                water_temp_c=temps[session][run],
                ratio=ratios[session][run],
                instrument_id="lens-2" if (session % 3 == 1) or practice else "lens-1",
                scale_id=scale_id,
                study_id=study_id,
                practice=practice,
            )
        )
    return brews


def production(days: Sequence[date], rng: np.random.Generator, *, first_number: int) -> list[Planned]:
    """One batch brew every working day, to one recipe."""
    return [
        Planned(
            brew_id=f"BB-{first_number + i:03d}",
            model=BATCH_BREW,
            at=datetime.combine(day, time(7, 30)) + timedelta(minutes=int(rng.integers(0, 12))),
            session_id=f"shop-{day:%m%d}",
            run_order=1,
            operator=OPERATORS[int(rng.integers(0, 4))],
            coffee_id="calmuth",
            grinder_id="sandpiper",
            steps_finer=0.0,
            water_temp_c=94.0,
            ratio=16.5,
            instrument_id="lens-2",
            scale_id="scale-bench",
            study_id="shop",
            recipe_id="house-batch",
        )
        for i, day in enumerate(days)
    ]


def with_bypass(brews: Sequence[Planned], rng: np.random.Generator) -> list[Planned]:
    """A third of the trial batches are brewed stronger and thinned with 3 g of water per gram of dose."""
    thinned = {int(i) for i in rng.permutation(len(brews))[: len(brews) // 3]}
    return [
        Planned(**{**vars(brew), "ratio": brew.ratio - 2.5, "bypass_per_dose": 3.0}) if i in thinned else brew
        for i, brew in enumerate(brews)
    ]


def plan(rng: np.random.Generator) -> list[Planned]:
    """Every planned brew of the eight weeks from 2 March 2026, in order of time."""
    plover = (-1.5, -0.75, 0.0, 0.75, 1.5)
    curlew = (-0.6, -0.32, 0.0, 0.32, 0.6)
    clicks = (-4.0, -2.0, 0.0, 2.0, 4.0)
    espresso = Levels({"plover": plover, "curlew": curlew}, (90, 91, 92, 93, 94, 95), (1.7, 1.9, 2.05, 2.2, 2.4))
    pour = Levels({"sandpiper": clicks}, (88, 90, 92, 93, 95, 97), (15.5, 16.0, 16.5, 17.0, 17.5))
    batch = Levels({"sandpiper": (-3.0, 0.0, 3.0)}, (92, 94, 96), (16.0, 16.5, 17.0))
    immersion = Levels({"sandpiper": (-2.0, 0.0, 2.0)}, (84, 88, 92, 96, 99), (13.5, 15.5, 17.5))
    cold = Levels({"sandpiper": (0.0,)}, (6, 8, 20), (9.0, 10.0, 11.0))
    bowls = Levels({"sandpiper": (0.0,)}, (94,), (17.0,))
    first = date(2026, 3, 2)
    shop_days = [day for i in range(52) if (day := first + timedelta(days=i)).weekday() < 5][:36]
    brews = [
        *campaign(ESPRESSO, "ES", session_days(first, 10, 5), 9, espresso, rng, start=time(9, 5), minutes=6,
                  scale_id="scale-bar", study_id="espresso-map"),
        *campaign(ESPRESSO, "PX", session_days(date(2026, 4, 3), 4, 4), 8,
                  Levels({"plover": plover}, (90.5, 92.5, 94.5), espresso.ratios), rng, start=time(17, 0), minutes=5,
                  scale_id="scale-bar", study_id="practice", people=("Perrik",), practice=True),
        *campaign(POUR_OVER, "PO", session_days(date(2026, 3, 3), 8, 6), 10, pour, rng, start=time(10, 30), minutes=9,
                  scale_id="scale-bar", study_id="filter-map"),
        *with_bypass(campaign(BATCH_BREW, "BT", session_days(date(2026, 3, 11), 3, 13), 9, batch, rng,
                              start=time(13, 0), minutes=15, scale_id="scale-bench", study_id="batch-trial"), rng),
        *production(shop_days, rng, first_number=1),
        *campaign(IMMERSION, "IM", session_days(date(2026, 3, 5), 4, 11), 9, immersion, rng, start=time(14, 0),
                  minutes=10, scale_id="scale-bar", study_id="press-map"),
        *campaign(COLD_BREW, "CB", session_days(date(2026, 3, 6), 4, 10), 4, cold, rng, start=time(16, 0), minutes=20,
                  scale_id="scale-bar", study_id="cold-jar"),
        *campaign(CUPPING, "CU", [date(2026, 4, 16)], 12, bowls, rng, start=time(11, 0), minutes=1,
                  scale_id="scale-bar", study_id="cupping-april", people=("Jonsa",)),
    ]  # fmt: skip
    return sorted(brews, key=lambda brew: (brew.at, brew.brew_id))
