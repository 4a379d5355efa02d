"""Reading a grinder's dial: '2.5.1' or '3+2' as one number in dial units."""

from __future__ import annotations

import math
import re

SEPARATOR = re.compile(r"\s*[.+,:/]\s*|\s+")
PLAIN_DECIMAL = re.compile(r"[+-]?[0-9]+(?:[.,][0-9]+)?")


def parse_dial(dial: str | None) -> tuple[int, ...] | None:
    """How many of each smaller part make one of the part before; None where nothing readable is declared.

    >>> parse_dial("10.5")
    (10, 5)
    """
    if dial is None:
        return None
    parts = SEPARATOR.split(dial.strip())
    if not all(part.isascii() and part.isdigit() and int(part) > 0 for part in parts):
        return None
    return tuple(int(part) for part in parts)


def read_setting(setting: str | None, dial: str | None) -> float | None:
    """A dial setting as a number, in units of its first part; None where it cannot be read.

    A smaller part must stay below its own count: on ten marks, 2.75 is no setting. Without a declared dial only a
    plain decimal is read, as itself.

    >>> read_setting("2.5.1", "10.5"), read_setting("3+2", "8"), read_setting("2,5", None), read_setting("2.5.1", None)
    (2.52, 3.25, 2.5, None)
    """
    if setting is None:
        return None
    setting = setting.strip()
    counts = parse_dial(dial)
    if counts is None:
        return float(setting.replace(",", ".")) if PLAIN_DECIMAL.fullmatch(setting) else None
    parts = SEPARATOR.split(setting)
    if len(parts) > len(counts) + 1 or not all(part.isascii() and part.isdigit() for part in parts):
        return None
    return _weigh(tuple(int(part) for part in parts), counts)


def _weigh(parts: tuple[int, ...], counts: tuple[int, ...]) -> float | None:
    """Sum of parts over a common denominator, so that 2.5.1 on 10.5 is exactly the nearest float to 2.52."""
    total, denominator = parts[0], 1
    for part, count in zip(parts[1:], counts, strict=False):
        if part >= count:
            return None
        total, denominator = total * count + part, denominator * count
    return total / denominator


def smallest_part(dial: str | None) -> float | None:
    """The smallest move of a compound dial, in units of its first part; None where no parts are declared.

    >>> smallest_part("10.5"), smallest_part(None)
    (0.02, None)
    """
    counts = parse_dial(dial)
    return None if counts is None else 1 / math.prod(counts)


def write_setting(value: float, dial: str | None) -> str:
    """The setting nearest to `value`, written as the dial counts: the way back from `read_setting`.

    >>> write_setting(2.52, "10.5"), write_setting(3.25, "8"), write_setting(7.5, None)
    ('2.5.1', '3.2', '7.5')
    """
    counts = parse_dial(dial)
    if counts is None:
        return f"{round(value, 6):g}"
    left = round(value * math.prod(counts))
    parts = []
    for count in reversed(counts):
        left, part = divmod(left, count)
        parts.append(part)
    return ".".join(str(part) for part in (left, *reversed(parts)))
