"""Rows of the interval charts about channeling: what channeled brews yield, how the risk moves."""

from __future__ import annotations

from analysis.channeling.matched import MatchedEffect
from analysis.channeling.report import ChannelingReport
from analysis.channeling.risk import ChannelingRisk, RiskEffect
from analysis.charts.effects.effect_rows import alike_places, change_row
from analysis.charts.effects.interval_rows import IntervalAxis, IntervalRow
from analysis.charts.plain_words import degrees
from analysis.words import capital, count, number, signed, span

RISK = IntervalAxis("Change of the risk of channeling (percentage points)")
"""A change of a share is stated in percentage points: from 10 to 15 % is 5."""


def effect_rows(report: ChannelingReport) -> list[IntervalRow]:
    """Channeled less clean at the same recipe as looked at, then with every brew not looked at clean, or channeled."""
    rows = []
    if isinstance(report.effect, MatchedEffect):
        rows.append(_effect("As looked at", report.effect))
    bounds = report.bounds
    if bounds is not None:
        n = count(bounds.n_not_looked_at, "brew")
        pairs = (("clean", bounds.effect_if_clean), ("channeled", bounds.effect_if_channeled))
        for state, one in pairs:
            if isinstance(one, MatchedEffect):
                rows.append(_effect(f"The {n} not looked at all {state}", one, hollow=True))
    return alike_places(rows)


def _effect(name: str, one: MatchedEffect, *, hollow: bool = False) -> IntervalRow:
    brews = f"{one.n_channeled} channeled and {one.n_clean} clean brews"
    return change_row(name, one.difference, one.low, one.high, more=brews, hollow=hollow)


def risk_rows(risk: ChannelingRisk) -> list[IntervalRow]:
    """How many percentage points the risk at the mean recipe moves with each change."""
    return [risk_row(one) for one in risk.effects]


def risk_row(one: RiskEffect) -> IntervalRow:
    """One change: how many percentage points the risk moves from the mean recipe."""
    known = one.points_low is not None and one.points_high is not None
    interval = (
        f", 95 % interval {span(one.points_low, one.points_high, 0)}"
        if one.points_low is not None and one.points_high is not None
        else ", the ends of its interval were not found"
    )
    risk = f"from {number(one.risk_from_pct, 0)} to {number(one.risk_to_pct, 0)} %"
    said = f"{signed(one.points, 0)} percentage points ({risk}{interval})"
    low, high = (one.points_low, one.points_high) if known else (None, None)
    return IntervalRow(capital(degrees(one.change)), one.points, low, high, signed(one.points, 0), said)
