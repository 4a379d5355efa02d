"""The smallest difference between two yields worth talking about, and what measuring or brewing more would buy."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Literal

from analysis.measurement.budget import brew_budget
from analysis.measurement.component import Budget, Component, combine
from analysis.measurement.difference import difference
from analysis.measurement.drops import DropScatter
from analysis.measurement.effort import Effort, More, Purchase
from analysis.measurement.measured import MeasuredBrew
from analysis.measurement.power import critical_difference, detectable_difference
from analysis.measurement.same_recipe import RecipeScatter
from analysis.measurement.slopes import yield_slopes
from analysis.words import capital, count, number
from schemas.problem import ProblemError

About = Literal["two brews measured", "two recipes brewed"]
BECAUSE: dict[About, str] = {
    "two brews measured": "measuring alone gives",
    "two recipes brewed": "brewing and measuring alone give",
}


@dataclass(frozen=True, slots=True)
class SmallestDifference:
    """In points of yield: `critical` is 1.96 u of a difference, `detectable` 2.80 u (Student's t where df is small).

    Two results that differ by less than `critical` may be of one and the same coffee; a true difference of
    `detectable` is found in 8 of 10 comparisons. `rests_on` says in words what the numbers come from.
    """

    about: About
    effort: Effort
    u_difference: float
    df: float
    critical: float
    detectable: float
    purchases: tuple[Purchase, ...]
    rests_on: str

    def sentences(self) -> list[str]:
        """The two numbers, what they rest on, and what one more of each kind would buy."""
        return [
            f"{capital(self.about)} ({self.effort.words()}): {BECAUSE[self.about]} differences up to "
            f"{number(self.critical, 2)} points (95 %); a true difference of {number(self.detectable, 2)} points is "
            "found in 8 of 10 comparisons.",
            self.rests_on,
            *(purchase.sentence(self.u_difference) for purchase in self.purchases),
        ]


def smallest_for_brews(
    brew: MeasuredBrew,
    scatter: DropScatter,
    *,
    effort: Effort,
    one_instrument: bool = True,
    one_scale: bool = True,
) -> SmallestDifference:
    """Two brews like `brew`, brewed once each: what measuring alone can tell apart.

    On one instrument and one weighing scale what is left of their calibration cancels, as like brews feel it alike.
    """
    if effort.brews != 1:
        raise ProblemError("Two brews that are measured are one brew each. Compare recipes for more.")

    def budget_of(tried: Effort) -> Budget | None:
        budget = _measured_budget(brew, scatter, tried)
        return budget and _less_its_like(budget, one_instrument=one_instrument, one_scale=one_scale)

    rests_on = f"{_scatter_words(scatter)} {sharing_words(one_instrument=one_instrument, one_scale=one_scale)}"
    return _smallest("two brews measured", effort, budget_of, ("reading", "sample"), rests_on)


def smallest_for_recipes(
    brew: MeasuredBrew,
    scatter: DropScatter,
    recipes: RecipeScatter,
    *,
    effort: Effort,
    one_instrument: bool = True,
    one_scale: bool = True,
) -> SmallestDifference:
    """Two recipes, each brewed `effort.brews` times: the scatter of brews to one recipe, which holds the measuring.

    The pooled brews were measured as `effort` says; more readings shrink only the measuring's part of their scatter.
    """
    now = _measured_budget(brew, scatter, effort)
    own_now = _own_variance(now) if now else 0.0

    def budget_of(tried: Effort) -> Budget | None:
        budget = _measured_budget(brew, scatter, tried)
        if budget is None:
            return None
        gained = 1 - _own_variance(budget) / own_now if own_now > 0 else 0.0
        variance = recipes.sd_pct**2 - min(own_now, recipes.sd_pct**2) * gained
        one = _of_recipe(budget, math.sqrt(variance / tried.brews), recipes.df)
        return _less_its_like(one, one_instrument=one_instrument, one_scale=one_scale)

    rests_on = f"{recipes.sentence()} {sharing_words(one_instrument=one_instrument, one_scale=one_scale)}"
    return _smallest("two recipes brewed", effort, budget_of, ("reading", "sample", "brew"), rests_on)


def typical_brew(brews: Sequence[MeasuredBrew]) -> MeasuredBrew:
    """The brew in the middle by how far an error of the strength moves its yield, of those on the commonest instrument.

    Brews read on several instruments stand back; a real brew, not an average of masses that nobody weighed.
    """
    single = [brew for brew in brews if len(brew.readings) == 1]
    if not single:
        raise ProblemError("No brew was read on one instrument alone, so no typical brew can be named.")
    names = [brew.readings[0].instrument for brew in single]
    commonest = max(sorted(set(names)), key=names.count)
    alike = [brew for brew in single if brew.readings[0].instrument == commonest]
    ordered = sorted(alike, key=lambda brew: yield_slopes(brew)["TDS"])
    return ordered[(len(ordered) - 1) // 2]


def _smallest(
    about: About,
    effort: Effort,
    budget_of: Callable[[Effort], Budget | None],
    kinds: tuple[More, ...],
    rests_on: str,
) -> SmallestDifference:
    now = budget_of(effort)
    if now is None:
        raise ProblemError(
            "Nothing is known of how readings repeat: no brew of this method was read twice on this instrument as "
            "often as asked for. Read a drop three times, and a second drop, for ten brews."
        )
    purchases = tuple(_purchase(kind, now.u, budget_of(effort.more(kind))) for kind in kinds)
    critical = critical_difference(now.u, now.df)
    return SmallestDifference(
        about, effort, now.u, now.df, critical, detectable_difference(now.u, now.df), purchases, rests_on
    )


def _purchase(what: More, before: float, after: Budget | None) -> Purchase:
    if after is None or before == 0:
        return Purchase(what, None, None)
    return Purchase(what, after.u, 100 * (1 - after.u / before))


def _measured_budget(brew: MeasuredBrew, scatter: DropScatter, effort: Effort) -> Budget | None:
    """The budget of `brew` had it been sampled and read as `effort` says; null where the scatter is not known."""
    variance = scatter.variance(samples=effort.samples, readings_per_sample=effort.readings_per_sample)
    if variance is None:
        return None
    n = effort.samples * effort.readings_per_sample
    df = scatter.df_of_mean(samples=effort.samples, readings_per_sample=effort.readings_per_sample)
    group = replace(brew.readings[0], n_readings=n, n_repeats=1, scatter_pct=math.sqrt(variance), scatter_df=df)
    return brew_budget(replace(brew, readings=(group,)))


def _own_variance(budget: Budget) -> float:
    """Variance of what each brew has to itself, in points squared: all that two brews do not share."""
    return math.fsum(part.contribution**2 for part in budget.components if not part.shared)


def _of_recipe(budget: Budget, u_points: float, df: int) -> Budget:
    """The same budget with the scatter of brews to one recipe in place of what each brew has to itself."""
    brewing = Component("brew to brew", u_points, 1.0, df, "A", "brewing", pool="brews to one recipe")
    shared = [part for part in budget.components if part.shared]
    return combine(budget.value, [brewing, *shared], unit=budget.unit)


def _less_its_like(budget: Budget, *, one_instrument: bool, one_scale: bool) -> Budget:
    """The budget of a difference between two such results, on one instrument and weighing scale or on two."""

    def is_shared(part: Component) -> bool:
        return one_instrument if part.group == "TDS" else one_scale

    lines = [part if is_shared(part) else replace(part, shared="") for part in budget.components]
    one = combine(budget.value, lines, unit=budget.unit)
    return difference(one, one).budget


def _scatter_words(scatter: DropScatter) -> str:
    what = "samples of one brew" if scatter.knows_samples and not scatter.samples_alike else "readings of one brew"
    pools = "the instrument's other methods, as this one has no repeats," if scatter.other_methods else "brews"
    alike = "; samples of one brew differ no more than that" if scatter.samples_alike else ""
    equal = ", all of them equal: the display step alone counts for their scatter" if scatter.all_equal else ""
    freedom = f"{count(scatter.df, 'degree')} of freedom"
    return f"It rests on how {what} repeat, pooled over {pools} with {freedom}{equal or alike}."


def sharing_words(*, one_instrument: bool, one_scale: bool) -> str:
    """What the two sides of a comparison share."""
    same = "its offset cancels" if one_instrument else "their offsets count in full"
    scale = "one weighing scale" if one_scale else "two weighing scales"
    return f"Both sides are read on {'one instrument' if one_instrument else 'two instruments'} ({same}) and {scale}."
