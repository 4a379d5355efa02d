"""How much caffeine a sitting adds up to if nobody spits, against published guidance."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from analysis.words import number

AT_ONCE_MG = 200.0
A_DAY_MG = 400.0
"""Up to these amounts, boundaries included, no concern for healthy adults who are not pregnant; in pregnancy 200 mg a
day. EFSA NDA Panel (2015), Scientific Opinion on the safety of caffeine, EFSA Journal 13(5):4102."""
MG_PER_G = 14.0
"""Caffeine in a gram of coffee, all of it taken to dissolve: the upper end of arabica, 0.8 to 1.4 % of dry matter
(robusta 1.7 to 4.0 %), after Belitz, Grosch and Schieberle, Food Chemistry (2009), as quoted second-hand."""
ML_PER_CUP = 10.0
"""What a palate takes of one cup: one or two spoonfuls; common practice, no source."""
CUPPING_RATIO = 18.0
"""Grams of water to a gram of coffee where the masses are not known: about a usual cupping bowl's; common practice."""


@dataclass(frozen=True, slots=True)
class CaffeineDose:
    """Milligrams of caffeine of the palate that gets most, if all is swallowed: at the strongest sitting, and in all.

    `cups` are the most cups of one sitting.
    """

    at_once_mg: float
    all_mg: float
    cups: int
    ml_per_cup: float
    mg_per_g: float

    @property
    def within_at_once(self) -> bool:
        """Whether one sitting stays within the guidance for one dose; exactly 200 mg does."""
        return self.at_once_mg <= AT_ONCE_MG

    @property
    def within_a_day(self) -> bool:
        """Whether all sittings on one day would stay within the guidance for a day; exactly 400 mg do."""
        return self.all_mg <= A_DAY_MG

    def sentences(self, *, n_sessions: int, ratio_note: str) -> tuple[str, ...]:
        """The estimate, what it assumes, and the advice."""
        about = f"about {number(self.at_once_mg, 0)} mg of caffeine at {'a' if n_sessions > 1 else 'this'} sitting"
        whole = f", {number(self.all_mg, 0)} mg at all {n_sessions}" if n_sessions > 1 else ""
        assumed = (
            f"{self.cups} cups of {number(self.ml_per_cup, 0)} ml at most, {number(self.mg_per_g, 0)} mg in a gram of "
            f"coffee, all of it dissolved; {ratio_note}"
        )
        return (
            f"Whoever swallows everything takes {about}{whole} ({assumed}).",
            "Published guidance for healthy adults is up to 200 mg at once and 400 mg a day, in pregnancy 200 mg a day "
            "(EFSA 2015); other coffee of the day counts too.",
            self._advice(n_sessions),
        )

    def _advice(self, n_sessions: int) -> str:
        always = "Spitting takes most of it away. Spit, share or stop; ask a physician where in doubt."
        if not self.within_at_once:
            least = self.ml_per_cup * AT_ONCE_MG / self.at_once_mg
            return f"This is more than 200 mg at once: spit, or take under {number(least, 1)} ml of each cup. {always}"
        if not self.within_a_day:
            return f"All {n_sessions} sittings on one day are more than 400 mg: spread them over days. {always}"
        return always


def caffeine_dose(sittings: Sequence[Sequence[Sequence[float]]], *, ml_per_cup: float, mg_per_g: float) -> CaffeineDose:
    """The heaviest palate's dose; `sittings` give, by palate and sitting, the grams of coffee in a ml of each cup.

    A cup counts `ml_per_cup` times its coffee per ml times `mg_per_g`.
    """
    per_palate = [[ml_per_cup * mg_per_g * sum(cups) for cups in palate] for palate in sittings]
    return CaffeineDose(
        at_once_mg=max(max(doses, default=0.0) for doses in per_palate),
        all_mg=max(sum(doses) for doses in per_palate),
        cups=max(len(cups) for palate in sittings for cups in palate),
        ml_per_cup=ml_per_cup,
        mg_per_g=mg_per_g,
    )
