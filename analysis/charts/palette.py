"""Colours and shapes: one colour per coffee everywhere, one shape for channeled brews.

The seven hues are those of Okabe M. and Ito K. (2008), "Color Universal Design", black left out; the order is ours:
neighbours differ in lightness, so that they stay apart in greyscale. Colours reach the charts as CSS variables, so
that one drawing serves light, dark and print.
"""

from __future__ import annotations

HUES = ("#0072B2", "#E69F00", "#009E73", "#56B4E9", "#D55E00", "#CC79A7", "#F0E442")
OTHER_HUE = "#8A8A8A"
"""Coffees beyond the seven that were brewed most."""

LIGHT_PAPER = "#FFFFFF"
DARK_PAPER = "#15181C"
EDGE_CONTRAST = 3.0
"""WCAG 2.2, success criterion 1.4.11: graphical objects against what is next to them."""

CHANNELING_STATES = ("clean", "channeled", "not looked at")
STATE_SHAPES = ("circle", "triangle-down", "square")
INK, QUIET, GRID, TARGET = "var(--ink)", "var(--quiet)", "var(--grid)", "var(--target)"


def _channels(colour: str) -> tuple[int, int, int]:
    return int(colour[1:3], 16), int(colour[3:5], 16), int(colour[5:7], 16)


def luminance(colour: str) -> float:
    """Relative luminance, 0 black to 1 white (WCAG 2.2 definition).

    >>> round(luminance("#FFFFFF"), 3), luminance("#000000")
    (1.0, 0.0)
    """
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in (v / 255 for v in _channels(colour))]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: str, other: str) -> float:
    """Contrast ratio, 1 to 21 (WCAG 2.2 definition).

    >>> round(contrast("#000000", "#FFFFFF"), 1)
    21.0
    """
    low, high = sorted((luminance(one), luminance(other)))
    return (high + 0.05) / (low + 0.05)


def mixed(colour: str, other: str, share: float) -> str:
    """`colour` with `share` of `other` mixed in, per sRGB channel.

    >>> mixed("#000000", "#FFFFFF", 0.5)
    '#808080'
    """
    pairs = zip(_channels(colour), _channels(other), strict=True)
    return "#" + "".join(f"{round(a + (b - a) * share):02X}" for a, b in pairs)


def edge(colour: str, paper: str) -> str:
    """The nearest shade of `colour` whose contrast with `paper` is at least 3 to 1.

    >>> edge("#0072B2", "#FFFFFF")
    '#0072B2'
    """
    away = "#000000" if luminance(paper) > 0.5 else "#FFFFFF"
    shades = (mixed(colour, away, share / 20) for share in range(21))
    return next(shade for shade in shades if contrast(shade, paper) >= EDGE_CONTRAST)


def css_variables(paper: str) -> str:
    """Declarations of `--fill-k` and `--edge-k` for every hue and the rest, on this paper."""
    hues = (*HUES, OTHER_HUE)
    pairs = [f"--fill-{k}:{hue};--edge-{k}:{edge(hue, paper)}" for k, hue in enumerate(hues)]
    return ";".join(pairs)


def hue_number(rank: int) -> int:
    """Which hue the coffee of this rank (0 = most brews) gets; the last number is the grey of the rest.

    >>> hue_number(0), hue_number(9)
    (0, 7)
    """
    return min(rank, len(HUES))


def fill_range() -> list[str]:
    """Fills by hue number, for a colour scale."""
    return [f"var(--fill-{k})" for k in range(len(HUES) + 1)]


def edge_range() -> list[str]:
    """Outlines by hue number, for a colour scale."""
    return [f"var(--edge-{k})" for k in range(len(HUES) + 1)]
