"""The verdict of a gauge study: how much is the gauge, how much the coffee, what to do."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import product
from typing import Literal

from analysis.measurement.gauge import CATEGORIES_FACTOR, LIMIT_FACTOR, GaugeStudy
from analysis.measurement.gauge_spreads import GaugeShare, Spread
from analysis.words import count, digits_for, listed, number, span

Kind = Literal["fine", "fine_so_far", "more_readings", "more_readers", "too_alike", "no_coffee"]
LIMIT_PCT = 30.0
"""Rule of thumb of the manual for measurement systems analysis (from memory): a gauge that makes more than 30 % of the
study variation does not tell the parts of that study apart."""
MOST_READINGS = 5
MOST_READERS = 3
ENOUGH_READERS = 5
"""From this many readers on, one more narrows the interval less than more brews do."""
HOW_TO_READ = "zero on water, stir, filter, let the drop come to temperature"


@dataclass(frozen=True, slots=True)
class GaugeVerdict:
    """`kind` for a program; `sentence` says how much is the gauge and how much the coffee, `advice` what to do."""

    kind: Kind
    sentence: str
    advice: str


def gauge_verdict(study: GaugeStudy, *, limit_pct: float = LIMIT_PCT) -> GaugeVerdict:
    """The verdict; a gauge is fine where it makes at most `limit_pct` percent of the study variation."""
    share = study.gauge_share
    if share is None:
        return GaugeVerdict("no_coffee", _without_coffee(study), _larger_part(study))
    kind, advice = _settled(study, share, limit_pct) if share.pct <= limit_pct else _remedy(study, limit_pct)
    return GaugeVerdict(kind, _how_much(study, share), advice)


def reader_limits_words(study: GaugeStudy) -> str:
    """By how much two readings of a brew differ, by one reader and by two, with what the spreads leave open of it."""
    repeats, gauge = study.spreads["repeatability"], study.spreads["gauge"]
    places = digits_for([limit for limit in (study.same_reader_limit_pct, study.other_reader_limit_pct) if limit])

    def known(part: Spread, limit: float) -> str:
        ends = span(LIMIT_FACTOR * part.sd_low, LIMIT_FACTOR * part.sd_high, places)
        return f"{number(limit, places)} % TDS (95 % interval {ends})"

    said = (
        "95 in 100 times two readings of a brew by one reader differ by less than "
        f"{known(repeats, study.same_reader_limit_pct)}"
    )
    if study.other_reader_limit_pct is not None:
        said += f", by two readers by less than {known(gauge, study.other_reader_limit_pct)}"
    return said


def classes_words(study: GaugeStudy) -> list[str]:
    """How many classes of strength the gauge tells apart; its interval is that of the gauge's share, turned round.

    With a share s of the study variation, brew-to-brew sd over gauge sd is `sqrt(1 / s^2 - 1)`.
    """
    share = study.gauge_share
    if study.categories is None or share is None:
        return []
    fewest = _classes(share.high_pct)
    most = f"to {_classes(share.low_pct):,}" if share.low_pct > 0 else "upwards"
    classes = count(study.categories, "class", "classes")
    return [f"It tells {classes} of strength apart among brews like these (95 % interval {fewest:,} {most})"]


def _classes(share_pct: float) -> int:
    return math.floor(CATEGORIES_FACTOR * math.sqrt(max((100 / share_pct) ** 2 - 1, 0.0)))


def _size(study: GaugeStudy) -> str:
    sizes = count(study.n_brews, "brew"), count(study.n_readers, "reader"), count(study.n_readings, "reading")
    return listed(sizes)


def _parts(study: GaugeStudy) -> tuple[float, float, float]:
    """Variances of repeats, of readers (with what they do from brew to brew), of brews."""
    found = study.spreads
    readers = found["reproducibility"].variance if "reproducibility" in found else 0.0
    return found["repeatability"].variance, readers, found["brew_to_brew"].variance if "brew_to_brew" in found else 0.0


def _how_much(study: GaugeStudy, share: GaugeShare) -> str:
    """Gauge against coffee, in standard deviations and in shares, with the interval."""
    gauge, brew = study.spreads["gauge"], study.spreads["brew_to_brew"]
    places = digits_for([gauge.sd, brew.sd])
    of_gauge = round(gauge.share_of_variance_pct or 0.0)
    alone = "; one reader, so what another would read is not in it" if study.n_readers == 1 else ""
    return (
        f"The gauge spreads by {number(gauge.sd, places)} % TDS, the coffee by {number(brew.sd, places)} % TDS "
        f"(standard deviations): {of_gauge} % of the variance is the gauge, {100 - of_gauge} % the coffee. The gauge "
        f"makes {number(share.pct, 0)} % of the study variation, 95 % interval "
        f"{span(share.low_pct, share.high_pct, 0)} %, from {_size(study)}{alone}."
    )


def _without_coffee(study: GaugeStudy) -> str:
    """One brew: how far readings of it lie apart; no word on coffee."""
    limits = [limit for limit in (study.same_reader_limit_pct, study.other_reader_limit_pct) if limit]
    places = digits_for(limits)
    return (
        f"Two readings of this brew by one reader differ by less than {number(study.same_reader_limit_pct, places)} % "
        f"TDS 95 times in 100, by two readers by less than {number(study.other_reader_limit_pct, places)} % TDS, from "
        f"{_size(study)}. One brew says nothing of how much is the coffee."
    )


def _larger_part(study: GaugeStudy) -> str:
    repeats, readers, _ = _parts(study)
    if readers > repeats:
        return f"Readers differ more than repeats: agree on one way of reading ({HOW_TO_READ})."
    return "Repeats differ more than readers: take more readings of a brew and use their mean."


def _settled(study: GaugeStudy, share: GaugeShare, limit_pct: float) -> tuple[Kind, str]:
    """Advice where the estimate is within the limit, by whether the interval is too."""
    if share.high_pct <= limit_pct:
        return "fine", "The refractometer is fine for telling brews like these apart, and so says the whole interval."
    if study.n_readers == 1:
        more = "A study with at least two readers would say whether that holds for somebody else."
    elif study.n_readers < ENOUGH_READERS:
        more = "Take another reader."
    else:
        more = "Take more brews."
    return "fine_so_far", (
        f"{number(share.pct, 0)} % by the estimate; {span(share.low_pct, share.high_pct, 0)} % is possible, and over "
        f"{number(limit_pct, 0)} % is too much to tell brews apart, so this study does not settle it. {more}"
    )


def share_pct(repeats: float, readers: float, brews: float, *, n_readings: int = 1, n_readers: int = 1) -> float:
    """Percent of the study variation that the gauge makes where a value is the mean of several readings.

    Each of `n_readers` takes `n_readings`; the three are variances in one unit.

    >>> round(share_pct(4.0, 1.0, 20.0), 1), round(share_pct(4.0, 1.0, 20.0, n_readings=4), 1)
    (44.7, 30.2)
    """
    gauge = readers / n_readers + repeats / (n_readers * n_readings)
    return 100 * math.sqrt(gauge / (gauge + brews))


def _remedy(study: GaugeStudy, limit_pct: float) -> tuple[Kind, str]:
    """Advice where the gauge makes too much of the spread: the cheapest mean that mends it, if one does."""
    repeats, readers, brews = _parts(study)
    for n in range(2, MOST_READINGS + 1):
        after = share_pct(repeats, readers, brews, n_readings=n)
        if after <= limit_pct:
            return "more_readings", (
                f"Take more readings: the mean of {n} readings of a brew by one reader brings the gauge to "
                f"{number(after, 0)} % of the study variation."
            )
    plan = _several_readers(repeats, readers, brews, limit_pct) if study.n_readers > 1 else ""
    if readers > repeats:
        return "more_readers", (
            f"Readers differ more than repeats: agree on one way of reading ({HOW_TO_READ}), and until then let one "
            f"reader read all the brews that you compare. {plan}"
        ).rstrip()
    if plan:
        return "more_readers", plan
    apart = study.other_reader_limit_pct or study.same_reader_limit_pct
    return "too_alike", (
        "These brews lie too near each other for this gauge: two single readings of one brew differ by up to "
        f"{number(apart, digits_for([apart]))} % TDS 95 times in 100. Compare brews that differ more, or brew each of "
        "them several times and compare means."
    )


def _several_readers(repeats: float, readers: float, brews: float, limit_pct: float) -> str:
    """The smallest mean over two or three readers that brings the gauge within the limit; empty if none does."""
    plans = sorted(product(range(2, MOST_READERS + 1), range(1, MOST_READINGS + 1)), key=lambda plan: plan[0] * plan[1])
    for n_readers, n in plans:
        after = share_pct(repeats, readers, brews, n_readings=n, n_readers=n_readers)
        if after <= limit_pct:
            more = "One more reader" if n_readers == 2 else "Two more readers"
            each = "reading once each" if n == 1 else f"reading {n} times each"
            return (
                f"{more} for every brew: the mean of {n_readers} readers, {each}, brings the gauge to "
                f"{number(after, 0)} % of the study variation."
            )
    return ""
