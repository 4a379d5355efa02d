"""A fitted correction as lines of `lab.toml`, to be pasted there by whoever decides to use it."""

from __future__ import annotations

import math
import re

from analysis.measurement.correction import FittedCorrection
from analysis.measurement.instrument_record import InstrumentRecord
from analysis.words import count, day_span

FIGURES = 3
BARE = re.compile(r"[A-Za-z0-9_-]+")


def block_for(record: InstrumentRecord) -> str:
    """The block for an instrument, empty where no correction was found or none would be applied."""
    found = record.correction
    if not isinstance(found, FittedCorrection) or not record.instrument.reads_strength:
        return ""
    return correction_block(found, record.instrument.instrument_id)


def correction_block(found: FittedCorrection, instrument_id: str) -> str:
    """The block to paste; uncertainties are rounded up in the third figure, values to match.

    `declared` in `FittedCorrection` says how the uncertainties come about.
    """
    checks = count(found.n_checks, "reference check")
    declared = found.declared(instrument_id, note=f"{checks}, {day_span(found.first.date(), found.last.date())}")
    u, slope_u = _rounded_up(declared.standard_uncertainty), _rounded_up(declared.slope_u)
    lines = [
        f"[correction.{section_key(instrument_id)}]",
        f"offset = {_plain(declared.offset, _places(u))}",
        f"slope = {_plain(declared.slope, _places(slope_u)) if slope_u else '1.0'}",
        f"standard_uncertainty = {_plain(u, _places(u))}",
    ]
    if slope_u:
        lines += [f"slope_u = {_plain(slope_u, _places(slope_u))}", f"centre = {_plain(declared.centre, 4)}"]
    lines += [
        f"low = {_plain(found.low, 4)}",
        f"high = {_plain(found.high, 4)}",
        f'note = "{declared.note}"',
    ]
    return "\n".join(lines) + "\n"


def _places(u: float) -> int:
    """Decimals that show `u` to three figures, and one for good measure."""
    return max(FIGURES - math.floor(math.log10(u)), 1) if u > 0 else 6


def _rounded_up(u: float) -> float:
    if u == 0:
        return 0.0
    scale = 10.0 ** (FIGURES - 1 - math.floor(math.log10(u)))
    return math.ceil(u * scale - 1e-6) / scale


def _plain(value: float, places: int) -> str:
    """A number as TOML reads it, without needless zeros.

    >>> _plain(0.0125, 5), _plain(1.0, 3), _plain(-0.00001, 3)
    ('0.0125', '1.0', '0.0')
    """
    text = f"{round(value, places) + 0.0:.{places}f}".rstrip("0")
    return text + "0" if text.endswith(".") else text


def section_key(name: str) -> str:
    r"""A section's name as TOML wants it.

    >>> section_key("lens-2"), section_key('big "lens"')
    ('lens-2', '"big \\"lens\\""')
    """
    if BARE.fullmatch(name):
        return name
    return '"' + name.replace("\\", "\\\\").replace('"', '\\"') + '"'
