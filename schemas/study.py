"""What a lab declares about one study in `study.toml`, before its brews: the question and how it will be asked."""

from __future__ import annotations

from dataclasses import dataclass

from schemas.lab import GrindReference


@dataclass(frozen=True, slots=True)
class StudyFactor:
    """A setting whose effect is asked for, named as its column; `step`, `low`, `high`, `levels` in the column's unit.

    `step` is the change an effect is stated for (None: the usual step of that column); `low` to `high` is the range
    that will be brewed (None: not declared); `levels` are the settings to brew at, ascending (empty: not said).
    `hard_to_change` marks what stays put between neighbouring brews; `curve` asks for the factor's square too.
    """

    name: str
    step: float | None = None
    low: float | None = None
    high: float | None = None
    levels: tuple[float, ...] = ()
    hard_to_change: bool = False
    curve: bool = False


@dataclass(frozen=True, slots=True)
class Exclusion:
    """A brew left out of the study's analysis (it stays in the log and is shown), and why."""

    brew_id: str
    reason: str


@dataclass(frozen=True, slots=True)
class Target:
    """The window to land in, ends included: `response` is a column, `low` and `high` in its unit (% for strength)."""

    response: str
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class Condition:
    """True where the factor `name` is at least and at most so much, in its unit; None leaves that side open."""

    name: str
    at_least: float | None = None
    at_most: float | None = None


@dataclass(frozen=True, slots=True)
class Impossible:
    """Settings that the kit cannot brew: those for which every one of `conditions` holds; `reason` in words."""

    conditions: tuple[Condition, ...]
    reason: str = ""


@dataclass(frozen=True, slots=True)
class Study:
    """One study as declared.

    `question` is in the lab's own words; `response` is a column; `difference_that_matters` is in the response's unit,
    points where that is % (None: not declared). `method` is None where brews of several methods are meant, `coffees`
    is empty where all are. `crosses` are pairs of factors written "a:b". `blocks` are columns whose levels may differ
    (session_id, operator, ...); `whole_plot` are the columns that stay put between neighbouring brews, every factor
    with `hard_to_change` among them. `grind_reference` replaces the lab's own for its coffee, grinder and method.

    >>> Study(study_id="map", question="Does grinding finer extract more?", response="extraction_yield_pct").crosses
    ()
    """

    study_id: str
    question: str
    response: str
    method: str | None = None
    coffees: tuple[str, ...] = ()
    factors: tuple[StudyFactor, ...] = ()
    crosses: tuple[str, ...] = ()
    blocks: tuple[str, ...] = ()
    whole_plot: tuple[str, ...] = ()
    grind_reference: tuple[GrindReference, ...] = ()
    exclusions: tuple[Exclusion, ...] = ()
    difference_that_matters: float | None = None
    targets: tuple[Target, ...] = ()
    impossible: tuple[Impossible, ...] = ()

    @property
    def factor_names(self) -> tuple[str, ...]:
        """The factors' columns, as declared."""
        return tuple(factor.name for factor in self.factors)

    @property
    def curves(self) -> tuple[str, ...]:
        """The factors whose curve is asked for."""
        return tuple(factor.name for factor in self.factors if factor.curve)

    @property
    def steps(self) -> dict[str, float]:
        """The declared practical steps by factor, each in its column's unit."""
        return {factor.name: factor.step for factor in self.factors if factor.step is not None}

    @property
    def ranges(self) -> dict[str, tuple[float, float]]:
        """The declared range (low, high) by factor, each in its column's unit."""
        return {
            factor.name: (factor.low, factor.high)
            for factor in self.factors
            if factor.low is not None and factor.high is not None
        }

    def target(self, response: str) -> Target | None:
        """The declared window of a response, None where there is none."""
        return next((target for target in self.targets if target.response == response), None)
