"""Two instruments on the same brews: the gap against the mean, and one against the other."""

from __future__ import annotations

from typing import Any

import altair as alt

from analysis.charts import palette, theme
from analysis.charts.domain import Domain, around
from analysis.charts.measurement.grammar import band, chart, difference_axis, flat, layer, points, short
from analysis.measurement.agreement import Agreement
from analysis.measurement.agreement_words import agreement_sentence
from analysis.measurement.proportional import Estimate
from analysis.words import number, signed, span

DIGITS = 3
MOST_POINTS = 1500


def difference_chart(found: Agreement) -> Any:
    """The gap of every brew against its mean, with bias and limits and what each is known to."""
    pairs = found.pairs
    means, gaps = (pairs.x_pct + pairs.y_pct) / 2, pairs.y_pct - pairs.x_pct
    lines = (("bias", found.bias), ("lower limit", found.lower), ("upper limit", found.upper))
    heights = [end for _, line in lines for end in (line.low, line.high)]
    across, away = around(means.tolist(), least=0.1), around([*gaps.tolist(), *heights, 0.0], least=0.04)
    x = theme.axis_x("mean:Q", "Mean of both (% strength)", across.low, across.high, digits=across.decimals)
    y = difference_axis("gap:Q", "Gap (% strength)", away)
    layers = [
        band([_interval(name, line) for name, line in lines], "intervals", y),
        flat("no_gap", [0.0], y, color=palette.QUIET),
        flat("bias", [found.bias.value], y),
        flat("limits", [found.lower.value, found.upper.value], y, dashed=True),
        points(_rows(found), x, y),
    ]
    return chart(layers, f"{found.b} less {found.a} against their mean. {agreement_sentence(found)}")


def _interval(name: str, line: Estimate) -> dict[str, Any]:
    words = f"{name} {signed(line.value, DIGITS)} %, 95 % interval {signed(line.low, DIGITS)} to "
    return {"low": line.low, "high": line.high, "words": f"{words}{signed(line.high, DIGITS)}"}


def _rows(found: Agreement) -> list[dict[str, Any]]:
    """A row per brew; of very many, so many taken evenly."""
    pairs = found.pairs
    n = len(pairs.brew_ids)
    kept = range(n) if n <= MOST_POINTS else (k * n // MOST_POINTS for k in range(MOST_POINTS))
    rows = []
    for k in kept:
        a, b = float(pairs.x_pct[k]), float(pairs.y_pct[k])
        gap = b - a
        rows.append(
            {
                "a": a,
                "b": b,
                "mean": (a + b) / 2,
                "gap": gap,
                "odd": not found.lower.low <= gap <= found.upper.high,
                "hollow": False,
                "words": (
                    f"{pairs.brew_ids[k]}: {found.a} {number(a, DIGITS)} %, {found.b} {number(b, DIGITS)} %, "
                    f"{signed(gap, DIGITS)}"
                ),
            }
        )
    return rows


def outside_limits(found: Agreement) -> list[str]:
    """Brews whose gap lies beyond the limits and all that these are known to."""
    rows = zip(found.pairs.brew_ids, found.pairs.y_pct - found.pairs.x_pct, strict=True)
    return [brew_id for brew_id, gap in rows if not found.lower.low <= gap <= found.upper.high]


def against_chart(found: Agreement) -> Any:
    """One against the other: the line of no gap, and Deming's line as far as there are brews."""
    pairs = found.pairs
    x_range, y_range = around(pairs.x_pct.tolist(), least=0.1), around(pairs.y_pct.tolist(), least=0.1)
    low, high = min(x_range.low, y_range.low), max(x_range.high, y_range.high)
    places = Domain(low, high).decimals
    x = theme.axis_x("a:Q", f"{short(found.a)} (% strength)", low, high, digits=places)
    y = theme.axis_y("b:Q", f"{short(found.b)} (% strength)", low, high, digits=places)
    equal = (
        layer([{"a": low, "b": low}, {"a": high, "b": high}], "equal")
        .mark_line(color=palette.QUIET, strokeWidth=1, strokeDash=[4, 3], clip=True)
        .encode(x=x, y=y)
    )
    layers = [equal, *([_line(found, x, y)] if found.line else []), points(_rows(found), x, y)]
    return chart(layers, f"{found.b} against {found.a}. {line_words(found)}")


def _line(found: Agreement, x: Any, y: Any) -> Any:
    line = found.line
    ends = [
        {"a": at, "b": line.intercept + line.slope * at, "words": line_words(found)}
        for at in ((line.x_low, line.x_high) if line else ())
        if line
    ]
    return (
        layer(ends, "deming")
        .mark_line(color=palette.INK, strokeWidth=1.8, clip=True)
        .encode(x=x, y=y, tooltip=alt.Tooltip("words:N"))
    )


def line_words(found: Agreement) -> str:
    """The line in words, or why there is none."""
    line = found.line
    if line is None:
        return f"No line: {found.no_slope}."
    slopes = span(line.slope_low, line.slope_high, DIGITS)
    ends = f"{signed(line.intercept_low, DIGITS)} to {signed(line.intercept_high, DIGITS)}"
    return (
        f"Deming's line: slope {number(line.slope, DIGITS)}, 95 % interval {slopes}; intercept "
        f"{signed(line.intercept, DIGITS)} %, 95 % interval {ends}; {line.n} brews from "
        f"{span(line.x_low, line.x_high, 2)} %."
    )
