"""The sources of spread in sentences: what is large, what the measuring is, and what would help."""

from __future__ import annotations

from analysis.spread.sources import BREW, MEASUREMENT, Source, SpreadSources
from analysis.words import count, listed, method_word, number, sentence

MOST = 0.5
LITTLE = 0.1
WORTH_SAYING = 0.05


def spread_sentences(found: SpreadSources, *, method: str, coffees: int) -> list[str]:
    """What the spread is made of, what to do about it, and what all brews have in common."""
    said = [
        f"{method_word(method)} brewed to one setting spreads by {number(found.total_sd, 2)} points of yield (standard "
        f"deviation, {count(found.n_brews, 'brew')} of {count(coffees, 'coffee')}): {_list(found)}",
        _advice(found),
        *_zero(found),
        *_limits(found),
        _level(found),
    ]
    return [sentence(one) for one in said if one]


def _list(found: SpreadSources) -> str:
    ordered = sorted((one for one in found.sources if one.variance > 0), key=lambda one: -one.share)
    return ", ".join(_share(one) for one in ordered)


def _share(one: Source) -> str:
    ends = (
        "" if one.low is None or one.high is None else f" (95 % interval {_percent(one.low)} to {_percent(one.high)} %)"
    )
    return f"{one.name} {_percent(one.share)} %{ends}"


def _percent(share: float) -> str:
    return number(100 * share, 0)


def _advice(found: SpreadSources) -> str:
    """Whether more brews or more readings would help."""
    measuring = found.source(MEASUREMENT)
    if found.measured.n_brews == 0:
        return (
            "no brew here has an uncertainty budget, so measuring cannot be told from brewing; declare the instruments "
            "or the [uncertainty] of lab.toml"
        )
    what = f"measuring is {_percent(measuring.share)} % of the spread"
    inside = f"{_percent(found.measurement_of_brew)} % of what brews of one coffee, session and operator differ by"
    if found.measurement_of_brew >= MOST:
        return (
            f"{what} and {inside}: more readings of each brew, or a better instrument, will help as much as more brews"
        )
    if found.measurement_of_brew <= LITTLE:
        return f"{what}: more brews will help, more readings will not"
    return f"{what} and {inside}: more brews will help most, more readings a little"


def _zero(found: SpreadSources) -> list[str]:
    """Sources that came out as zero, which is not the same as none."""
    names = [one.name for one in found.sources if one.variance == 0 and one.name not in (BREW, MEASUREMENT)]
    if not names:
        return []
    verb = "source came" if len(names) == 1 else "sources came"
    return [
        f"the {verb} out as zero for {listed(names)}: too small to see in so few levels, which is not proof of none"
    ]


def _limits(found: SpreadSources) -> list[str]:
    said = []
    if found.measured_exceeds:
        said.append(
            "the declared uncertainties claim more spread than the brews show: check whether the repeatability or the "
            "display steps are declared too large"
        )
    whole = found.total_sd**2
    if found.measured.beside > WORTH_SAYING * whole:
        said.append(
            f"coffees or sessions were read on different instruments ({listed(found.measured.instruments)}), which can "
            f"account for {_percent(found.measured.beside / whole)} % of the spread between them"
        )
    return said


def _level(found: SpreadSources) -> str:
    if found.measured.level_u <= 0:
        return ""
    from_whom = listed(found.measured.instruments)
    return (
        "apart from that, all yields may lie too high or too low together by "
        f"{number(found.measured.level_u, 2)} points (standard uncertainty, from {from_whom}); no number of brews or "
        "readings lessens it"
    )
