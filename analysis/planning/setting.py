"""How many brews show what a setting does, over coffees and sessions, and what the brews so far could show."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from scipy import stats

from analysis.effects.factors import difference_unit
from analysis.planning.answers import RULE, Answer, amount, percent, range_said
from analysis.planning.factors import PlanFactor
from analysis.planning.noise import Noise
from analysis.planning.power import POWER, chance_of_t, smallest_seen
from analysis.planning.simulate import simulate_power
from analysis.planning.strata import Layout, precision
from analysis.planning.words import range_words
from analysis.words import count, span
from schemas.problem import ProblemError

MOST_BREWS = 2000
MOST_COFFEES = 60
BREWS_A_COFFEE = 8


@dataclass(frozen=True)
class Campaign:
    """`brews` in all, half at each end of a setting, spread evenly over coffees and sessions."""

    brews: int
    coffees: int
    sessions: int

    def layout(self) -> Layout:
        """Coded -1 and +1 in turns within every coffee; sessions hold as equal shares of each as can be."""
        each = self.brews // self.coffees
        coffee = np.repeat(np.arange(self.coffees), each)
        turn = np.tile(np.arange(each), self.coffees)
        sign = np.where(turn % 2 == 0, -1.0, 1.0)
        return Layout(sign[:, None], coffee.astype(np.int64), (turn // 2 % self.sessions).astype(np.int64))


def setting_answer(
    factor: PlanFactor, noise: Noise, *, response: str, difference: float, coffees: int = 1, sessions: int = 1,
    brews: int | None = None, power: float = POWER, simulations: int = 400, rng: np.random.Generator,
) -> Answer:  # fmt: skip
    """Brews in all that show what a setting does from low to high; slopes that differ by coffee count as such.

    Closed form from the plan's standard error and degrees of freedom; where coffees or sessions are several, checked by
    `simulations` of the mixed model (0: not).
    """
    if coffees < 1 or sessions < 1:
        raise ProblemError("Coffees and sessions are counted from 1.")
    smallest_size = 2 * coffees * max(1, sessions if coffees == 1 else 1)
    if brews is not None and brews < smallest_size + 2:
        raise ProblemError(
            f"{count(brews, 'brew')} are too few for {count(coffees, 'coffee')} and {count(sessions, 'session')}: it "
            f"takes {smallest_size + 2} or more, low and high in each."
        )
    coded = _coded_noise(noise, factor)
    needed = _setting_needed(coded, difference, coffees, sessions, power)
    low = high = None
    if ends := noise.interval():
        low, high = (
            _setting_needed(replace(coded, brew_sd=sd), difference, coffees, sessions, power) for sd in ends
        )  # fmt: skip
    size = brews if brews is not None else needed
    chance = smallest = simulated = None
    if size is not None:
        error, df = _known(Campaign(_even(size, coffees), coffees, sessions), coded)
        chance, smallest = chance_of_t(difference, error, df), smallest_seen(error, df, power=power)
        if simulations and (coffees > 1 or sessions > 1):
            layout = Campaign(_even(size, coffees), coffees, sessions).layout()
            half = np.array([difference / 2])
            simulated = simulate_power(layout, coded, coefficients=half, term=0, n=simulations, rng=rng)
    answer = Answer(needed, low, high, size, chance, smallest, simulated, ())
    said = _setting_said(answer, factor, noise, response, difference, coffees, sessions, brews, power)
    return Answer(needed, low, high, size, chance, smallest, simulated, said)


def _coded_noise(noise: Noise, factor: PlanFactor) -> Noise:
    """Slopes by coffee from per unit of the setting to per half range."""
    return replace(noise, slope_sds=tuple(sd * factor.half for sd in noise.slope_sds[:1]))


def _even(brews: int, coffees: int) -> int:
    """The next number of brews that gives every coffee as many low as high."""
    return 2 * coffees * math.ceil(brews / (2 * coffees))


def _known(campaign: Campaign, noise: Noise) -> tuple[float, float]:
    """Standard error of the change from low to high, and its degrees of freedom."""
    known = precision(campaign.layout(), noise)
    if known is None:
        return math.inf, 0.0
    return 2 * float(known.std_error[0]), float(known.df[0])


def _setting_needed(noise: Noise, difference: float, coffees: int, sessions: int, power: float) -> int | None:
    """The smallest even number of brews that reaches the power; None where no number does."""
    best = math.inf
    if noise.slope_sds and noise.slope_sds[0] > 0:
        best = 2 * noise.slope_sds[0] / math.sqrt(coffees)
        if coffees < 2 or chance_of_t(difference, best, coffees - 1) < power:
            return None
    # The normal distribution gives where to begin; the search goes up in whole rounds of low and high.
    reach = float(stats.norm.isf(0.025) + stats.norm.isf(1 - power))
    begin = _even(max(2, int((2 * noise.brew_sd * reach / difference) ** 2) // 2), coffees)
    size = max(begin, 2 * coffees)
    while size <= MOST_BREWS:
        error, df = _known(Campaign(size, coffees, sessions), noise)
        if df > 0 and chance_of_t(difference, error, df) >= power:
            return size
        size += 2 * coffees
    return None


def _setting_said(
    answer: Answer, factor: PlanFactor, noise: Noise, response: str, difference: float, coffees: int, sessions: int,
    brews: int | None, power: float,
) -> tuple[str, ...]:  # fmt: skip
    unit = difference_unit(response)
    where = f"{count(coffees, 'coffee')} in {count(sessions, 'session')}"
    change = f"a change of {amount(difference)} {unit} over the {range_words(factor)}"
    said = [noise.said]
    if noise.slope_sds and noise.slope_sds[0] > 0:
        spread = noise.slope_sds[0] * (factor.high - factor.low)
        said.append(f"Coffees differ in what it does by {amount(spread)} {unit} (standard deviation over this range).")
    if answer.needed is None:
        said.append(
            f"No number of brews on {where} would show {change} with a chance of {percent(power)}"
            f"{_coffees_said(_coded_noise(noise, factor), difference, sessions, power)}."
        )
    else:
        said.append(
            f"To see {change} with a chance of {percent(power)} ({RULE}) takes {count(answer.needed, 'brew')} of "
            f"{where}, half at each end{range_said((answer.needed_low, answer.needed_high))}."
        )
    if brews is not None and answer.smallest is not None and answer.chance is not None:
        said.append(
            f"With {count(brews, 'brew')} of {where} a change of {amount(answer.smallest)} {unit} would be seen "
            f"with a chance of {percent(power)}, one of {amount(difference)} {unit} with {percent(answer.chance)}."
        )
    if answer.simulated is not None and answer.n is not None:
        low, high = answer.simulated.interval()
        said.append(
            f"Checked by brewing it {answer.simulated.n:,} times on paper with {count(answer.n, 'brew')}: seen in "
            f"{percent(answer.simulated.share)} (95 % interval {span(100 * low, 100 * high, 0)} %)."
        )
    return tuple(said)


def _coffees_said(noise: Noise, difference: float, sessions: int, power: float) -> str:
    """How many coffees it would take, since more brews of these do not help."""
    for coffees in range(2, MOST_COFFEES + 1):
        error, df = _known(Campaign(BREWS_A_COFFEE * coffees, coffees, sessions), noise)
        if chance_of_t(difference, error, df) >= power:
            return (
                f": the coffees differ too much in it. It takes about {coffees} coffees, {BREWS_A_COFFEE} brews of each"
            )
    return ": take a wider range"


def brewed_sentence(
    factor: PlanFactor, layout: Layout, noise: Noise, *, response: str, difference: float, power: float = POWER
) -> str:
    """What the brews made so far could show; column 0 of the layout is the setting, the others moved with it."""
    coded = _coded_noise(noise, factor)
    known = precision(layout, coded)
    n = layout.x.shape[0]
    if known is None or known.df[0] <= 0:
        return (
            f"The {count(n, 'brew')} made so far cannot show it: within coffees and sessions the {factor.noun} stayed "
            "put or moved with other settings. Plan more with `brewtrials plan --add-to-brewed`."
        )
    error, df = 2 * float(known.std_error[0]), float(known.df[0])
    return (
        f"With the {count(n, 'brew')} made so far a change of {amount(smallest_seen(error, df, power=power))} "
        f"{difference_unit(response)} over the {range_words(factor)} would be seen with a chance of {percent(power)}, "
        f"one of {amount(difference)} with {percent(chance_of_t(difference, error, df))}."
    )
