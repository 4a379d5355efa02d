"""Methods of a lab as reports: one in full with what one more of each kind buys, or all side by side."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from analysis.measurement.effort import ONE_MORE
from analysis.words import count, method_word, sentence
from pipeline.measurement.method_budget import MethodBudget
from pipeline.report import Part, Report, as_data, figures, findings, freedom


def method_report(found: MethodBudget, *, timezone: str) -> Report:
    """One method in full: the smallest difference worth talking about, and what one more of each kind buys."""
    said = [found.summary()]
    for one in found.smallest:
        said += one.sentences()
    said += [found.corrected] if found.corrected else []
    said += [wide for wide in (found.wide_readings, found.wide) if wide]
    if found.n_slips:
        flagged = count(found.n_slips, "brew flagged as a likely slip", "brews flagged as likely slips")
        said.append(f"Left out of the scatter of recipes: {flagged} (see `brewtrials flags`)")
    if found.expanded_u is not None:
        said += found.refusals
    headers = (
        "what is compared",
        "standard uncertainty",
        "differs by chance up to",
        "found in 8 of 10",
        "degrees of freedom",
    )
    rows = [
        (one.about, *(_points(x) for x in (one.u_difference, one.critical, one.detectable)),
         freedom(one.df))
        for one in found.smallest
    ]  # fmt: skip
    part = Part("", [sentence(text) for text in said], headers if rows else (), rows, right=headers[1:])
    return Report([part], findings(_findings([found])), as_data(_data(found), timezone))


def summary_report(methods: Sequence[MethodBudget], *, timezone: str) -> Report:
    """All methods of a lab side by side."""
    headers = ("method", "brews", "with interval", "interval", "mostly from", "two brews", "two recipes")
    rows = []
    for one in methods:
        critical = {found.about: f"{_points(found.critical)} ({freedom(found.df)})" for found in one.smallest}
        rows.append(
            (
                method_word(one.method),
                f"{one.n_brews:,}",
                f"{one.n_known:,}",
                f"+- {_points(one.expanded_u)}" if one.expanded_u is not None else "not known",
                one.shares.partition(",")[0],
                critical.get("two brews measured", "not known"),
                critical.get("two recipes brewed", "not known"),
            )
        )
    said = [
        "Interval: how far the 95 % interval of a yield reaches either way, in the middle of the method's brews. The "
        "last two columns: by up to this much do two brews measured the usual way, or two recipes brewed once each, "
        "differ in 95 of 100 cases where there is nothing between them. In brackets the degrees of freedom that this "
        "rests on; under 10 it is a rough guess.",
        *(method.summary() for method in methods if method.expanded_u is None),
        *(sentence(text) for text in dict.fromkeys(method.corrected for method in methods) if text),
        "What one more reading, sample or brew would buy: brewtrials budget --method METHOD.",
    ]
    part = Part("", said, headers, rows, right=(*headers[1:4], *headers[5:]))
    data = as_data([_data(one) for one in methods], timezone)
    return Report([part], findings(_findings(methods)), data, none="No brews yet, so there is nothing to say.")


def _findings(methods: Sequence[MethodBudget]) -> list[tuple[Any, ...]]:
    rows: list[tuple[Any, ...]] = []
    for one in methods:
        name, n = one.method, one.n_known
        medians = (("median standard uncertainty of yield", one.u), ("median half interval of yield", one.expanded_u))
        rows += [("method", name, what, value, None, None, "points", n, one.shares or None) for what, value in medians]
        for found in one.smallest:
            about, basis = found.about, f"{found.effort.words()}; {found.rests_on}"
            rows += [
                ("smallest difference", name, f"{about}: {what}", value, None, None, "points", n, basis)
                for what, value in (("differs by chance up to", found.critical), ("found in 8 of 10", found.detectable))
            ]
            before = f"standard uncertainty of a difference, now {found.u_difference:.4g}"
            rows += [
                (
                    "one more",
                    name,
                    f"{about}: {ONE_MORE[more.what]}",
                    more.u_difference,
                    None,
                    None,
                    "points",
                    n,
                    before,
                )
                for more in found.purchases
            ]
    return rows


def _data(found: MethodBudget) -> dict[str, Any]:
    fields = (
        "method",
        "n_brews",
        "n_yields",
        "n_known",
        "u",
        "k",
        "expanded_u",
        "shares",
        "instrument",
        "n_slips",
        "corrected",
        "without",
    )
    smallest = [as_data(one) | {"sentences": one.sentences()} for one in found.smallest]
    return {name: getattr(found, name) for name in fields} | {
        "smallest_differences": smallest,
        "refusals": found.refusals,
        "sentences": [found.summary()],
    }


def _points(value: float) -> str:
    return f"{figures(value, most=2)} points"
