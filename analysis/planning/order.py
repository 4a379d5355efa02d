"""From a list of settings to an order of brewing: sessions, whole plots, and chance where it may be had."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from analysis.mixed.arrays import Floats, Ints
from analysis.planning.strata import codes_of
from schemas.problem import ProblemError

MOST_ROUNDS = 50
STARTS = 6
SMALLEST_GAIN = 1e-9


@dataclass(frozen=True)
class Order:
    """Where each run goes. `session` and `whole_plot` (n,) number from 0; `place` (n,) is its turn in its session."""

    session: Ints
    whole_plot: Ints
    place: Ints

    def sequence(self) -> Ints:
        """The runs as they are brewed: numbers of runs, session by session."""
        return np.lexsort((self.place, self.session)).astype(np.int64)


def deal_sessions(x: Floats, keep: Sequence[object], n_sessions: int, *, rng: np.random.Generator) -> Ints:
    """Session of every run (n,), as equal in size as can be, chosen so that sessions hide as little as can be of `x`.

    Starts at random, each value of `keep` (the coffees) spread evenly, and swaps runs between sessions while that
    raises |X'X| within sessions (Cook and Nachtsheim 1989, Technometrics 31:339-346); the best of several starts, or
    the first in which sessions hide nothing at all.
    """
    n = x.shape[0]
    if n_sessions < 1 or n_sessions > n:
        raise ProblemError(f"{n} brews cannot be spread over {n_sessions} sessions.")
    kept = codes_of(keep)
    session = _spread(kept, n_sessions, rng)
    if n_sessions == 1 or x.shape[1] == 0:
        return session
    most, best = _within(x, np.zeros(n, dtype=np.int64), 1), -np.inf
    for _ in range(STARTS):
        dealt = _spread(kept, n_sessions, rng)
        value = _swap(x, kept, dealt, n_sessions, rng)
        if value > best + SMALLEST_GAIN:
            best, session = value, dealt
        if best > most - SMALLEST_GAIN:
            break
    return session


def _swap(x: Floats, kept: Ints, session: Ints, n_sessions: int, rng: np.random.Generator) -> float:
    """Swap runs that agree in `kept` between sessions, in place, while it helps; the value reached."""
    best = _within(x, session, n_sessions)
    for _ in range(MOST_ROUNDS):
        improved = False
        for i in rng.permutation(session.size):
            for j in np.flatnonzero((kept == kept[i]) & (session != session[i])):
                session[i], session[j] = session[j], session[i]
                value = _within(x, session, n_sessions)
                if value > best + SMALLEST_GAIN:
                    best, improved = value, True
                    break
                session[i], session[j] = session[j], session[i]
        if not improved:
            break
    return best


def _spread(kept: Ints, n_sessions: int, rng: np.random.Generator) -> Ints:
    """Random sessions, equal in size to within one, and within each value of `kept` to within one."""
    order = rng.permutation(kept.size)
    order = order[np.argsort(kept[order], kind="stable")]
    session = np.empty(kept.size, dtype=np.int64)
    names = rng.permutation(n_sessions)
    session[order] = names[np.arange(kept.size) % n_sessions]
    return session


def _within(x: Floats, session: Ints, n_sessions: int) -> float:
    """Log |X'X| of what varies within sessions, with a little added so that it is never singular."""
    means = np.zeros((n_sessions, x.shape[1]))
    np.add.at(means, session, x)
    inside = x - (means / np.bincount(session, minlength=n_sessions)[:, None])[session]
    return float(np.linalg.slogdet(inside.T @ inside + 1e-6 * np.eye(x.shape[1]))[1])


def order_runs(session: Ints, hard: Sequence[object], *, rng: np.random.Generator, rounds: int = 1) -> Order:
    """Random order within sessions; runs that agree in `hard` stay together as a whole plot.

    In each of `rounds` every setting of `hard` comes up once, in random order: that is how often it is set anew.
    """
    kept = codes_of(hard)
    place = np.empty(session.size, dtype=np.int64)
    plot: list[tuple[int, int, int]] = [(0, 0, 0)] * session.size
    for one in np.unique(session):
        rows = np.flatnonzero(session == one)
        parts = {int(k): np.array_split(rng.permutation(rows[kept[rows] == k]), rounds) for k in np.unique(kept[rows])}
        turn = 0
        for round_no in range(rounds):
            for setting in rng.permutation(list(parts)):
                own = parts[int(setting)][round_no]
                place[own] = np.arange(turn, turn + own.size)
                for row in own:
                    plot[int(row)] = (int(one), round_no, int(setting))
                turn += own.size
    return Order(session, codes_of(plot), place)
