"""What stands out about single assessors, said so that it helps them: what was seen, and what to try."""

from __future__ import annotations

from analysis.findings import Finding
from analysis.sensory.panel.assessor import AssessorResult
from analysis.sensory.panel.flags import FEWEST_TO_FOLLOW, FEWEST_TO_STAND_APART, Flag, Flags
from analysis.sensory.panel.tidy import PanelRows
from analysis.words import capital, count, listed, number, sentence, signed, span

FALSE_ALARMS = "a panel without faults gets a remark like these at most about 1 time in 20"


def people_findings(rows: PanelRows, people: tuple[AssessorResult, ...], flags: Flags) -> list[Finding]:
    """Remarks in the order of labels, constant scoring, and what could not be judged."""
    found = [_remark(one, flag) for one in people for flag in one.flags]
    if found:
        found.append(
            Finding("assessors", "worth knowing", sentence(f"How sure: {FALSE_ALARMS}"), "Ask before you judge.")
        )
    elif len(people) >= FEWEST_TO_STAND_APART:
        said = f"Nobody stands apart from the panel by more than assessors differ among themselves (n = {len(people)})"
        found.append(Finding("assessors", "fine", sentence(said), "Nothing to do."))
    found += _following(people)
    found += [_constant(one) for one in people if any(on.use.constant for on in one.attributes)]
    return [*found, *_limits(rows, people, flags)]


def _remark(person: AssessorResult, flag: Flag) -> Finding:
    who, over = capital(person.label), f"over {count(flag.n_attributes, 'attribute')}"
    size, n = number(flag.value, 1), count(person.n_cups, "cup")
    slope = ""
    if person.follows is not None:
        ends = span(person.follows.low, person.follows.high, 2)
        cups = count(person.follows.n_cups, "cup")
        slope = f"slope {number(flag.value, 2)} on their mean, 95 % interval {ends}, n = {cups}"
    said, weight, do = {
        "reversed": (
            f"{who}'s scores fall where the others' rise ({slope}, {over}): the scale may have been used upside down",
            "stands in the way",
            "Ask which end was which. Nothing was turned round here; correct the sheet if it was.",
        ),
        "no_discrimination": (
            f"{who}'s scores show no difference between cups and follow the others little ({slope}, {over})",
            "worth knowing",
            "Look for a cold, a hurried session or mixed-up cups first; then practise with cups far apart.",
        ),
        "noisy": (
            f"{who}'s repeats of the same lie {size} times as far apart as is usual here ({over}, n = {n})",
            "worth knowing",
            "Offer more time, warm-up cups and a reference to come back to.",
        ),
        "compressed": (
            f"{who} uses {size} times the width of scale that is usual here ({over}, n = {n})",
            "worth knowing",
            "Show reference cups for both ends of the scale; differences in words may be as good as anybody's.",
        ),
        "shifted": (
            f"{who} scores {signed(flag.value, 1)} panel standard deviations from the others' level ({over}, n = {n})",
            "worth knowing",
            "A level of one's own changes no comparison between products; agree on a reference if levels matter.",
        ),
    }[flag.kind]
    return Finding("assessors", weight, sentence(said), do)  # type: ignore[arg-type]


def _following(people: tuple[AssessorResult, ...]) -> list[Finding]:
    """How many are seen to follow the rest, over the attributes in which the rest find the cups different."""
    asked = [one for one in people if one.follows is not None]
    if not asked:
        return []
    n = sum(1 for one in asked if one.follows is not None and one.follows.low > 0)
    said = (
        f"{n} of {count(len(asked), 'assessor')} are seen to follow the mean of the others from cup to cup "
        "(95 % interval of the slope above zero), over the attributes in which the others find the cups different"
    )
    if 4 * n >= 3 * len(asked):
        return [Finding("following", "fine", sentence(said), "Nothing to do.")]
    do = "Train on words and references before resting a decision on these attributes."
    return [Finding("following", "worth knowing", sentence(said), do)]


def _constant(person: AssessorResult) -> Finding:
    names = [
        f"{on.attribute} ({count(on.use.n, 'score')}, all {on.use.mean:g})"
        for on in person.attributes
        if on.use.constant
    ]
    said = f"{capital(person.label)} gave one score to everything in {listed(names)}"
    return Finding("assessors", "worth knowing", sentence(said), "Ask whether it was not perceived or not judged.")


def _limits(rows: PanelRows, people: tuple[AssessorResult, ...], flags: Flags) -> list[Finding]:
    """What this layout cannot tell about people."""
    said = []
    if len(people) < FEWEST_TO_FOLLOW:
        said.append("with fewer than three assessors nobody can be held against the others")
    elif len(people) < FEWEST_TO_STAND_APART:
        said.append(f"with {len(people)} assessors nobody can be seen to stand apart in level, scatter or range")
    if len(rows.products) == 1:
        said.append("one product was tasted, so nobody could tell products apart")
    elif len(people) >= FEWEST_TO_FOLLOW and not flags.slopes:
        said.append("the cups are too alike, or too few, to see who follows whom")
    repeated = any(on.repeatability for one in people for on in one.attributes)
    if not repeated:
        said.append("nothing was tasted twice, so nobody's repeatability is known")
    lone = [one.label for one in people if one.n_cups == 1]
    if lone:
        said.append(f"{listed(lone)} tasted one cup, which says nothing about them")
    if not said:
        return []
    return [
        Finding(
            "limits", "worth knowing", sentence("; ".join(said)), "Serve some cups twice, to at least five palates."
        )
    ]
