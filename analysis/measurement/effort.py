"""How much brewing, sampling and reading stands behind a comparison, and what one more of each would buy."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

from analysis.words import capital, count, digits_for, number

More = Literal["reading", "sample", "brew"]
ONE_MORE: dict[More, str] = {
    "reading": "one more reading of each sample",
    "sample": "one more sample of each brew",
    "brew": "one more brew of each recipe",
}
NEVER: dict[More, str] = {
    "reading": "no sample was read twice",
    "sample": "no brew was sampled twice",
    "brew": "no recipe was brewed twice",
}


@dataclass(frozen=True, slots=True)
class Effort:
    """How often each side of a comparison is brewed, sampled and read."""

    brews: int = 1
    samples: int = 1
    readings_per_sample: int = 1

    def more(self, what: More) -> Effort:
        """The same with one more of one kind."""
        if what == "reading":
            return replace(self, readings_per_sample=self.readings_per_sample + 1)
        if what == "sample":
            return replace(self, samples=self.samples + 1)
        return replace(self, brews=self.brews + 1)

    def words(self) -> str:
        """Inside a sentence.

        >>> Effort(brews=3, samples=1, readings_per_sample=2).words()
        '3 brews each, 1 sample a brew, 2 readings a sample'
        """
        measured = f"{count(self.samples, 'sample')} a brew, {count(self.readings_per_sample, 'reading')} a sample"
        return f"{count(self.brews, 'brew')} each, {measured}"


@dataclass(frozen=True, slots=True)
class Purchase:
    """What one more of a kind leaves of the uncertainty of a difference, in points; null where the data do not say."""

    what: More
    u_difference: float | None
    reduction_pct: float | None

    def sentence(self, before: float) -> str:
        """The gain in words; `before` is the uncertainty as it is now."""
        if self.u_difference is None or self.reduction_pct is None:
            return f"{capital(ONE_MORE[self.what])}: not known, because {NEVER[self.what]}."
        places = digits_for([before - self.u_difference], figures=1, most=4) if self.u_difference < before else 2
        now, then = number(self.u_difference, max(places, 2)), number(before, max(places, 2))
        return (
            f"{capital(ONE_MORE[self.what])}: standard uncertainty of a difference {now} instead of {then} points, "
            f"{'under 1' if round(self.reduction_pct) == 0 else number(self.reduction_pct, 0)} % less."
        )
