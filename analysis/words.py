"""Numbers, intervals, dates and counts in words, as people of the trade say them."""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import date
from itertools import pairwise

from schemas.methods import METHOD_WORDS

NO_VALUE = "not known"


def number(value: float | None, digits: int) -> str:
    """A number with fixed digits and thousands commas, never "-0.0".

    >>> number(1234.5, 1), number(-0.001, 2), number(None, 1)
    ('1,234.5', '0.00', 'not known')
    """
    if value is None or not math.isfinite(value):
        return NO_VALUE
    return f"{round(value, digits) + 0.0:,.{digits}f}"


def signed(value: float, digits: int) -> str:
    """A change with its sign; zero after rounding has none.

    >>> signed(0.42, 2), signed(-1.04, 1), signed(0.001, 2)
    ('+0.42', '-1.0', '0.00')
    """
    text = number(value, digits)
    return f"+{text}" if round(value, digits) > 0 else text


def span(low: float, high: float, digits: int) -> str:
    """Two ends of a range or interval.

    >>> span(0.3, 0.54, 2)
    '0.30 to 0.54'
    """
    return f"{number(low, digits)} to {number(high, digits)}"


def more_or_less(value: float, digits: int, unit: str) -> str:
    """A change without a sign.

    >>> more_or_less(-2.84, 1, "points"), more_or_less(0.3, 1, "points")
    ('2.8 points less', '0.3 points more')
    """
    return f"{number(abs(value), digits)} {unit} {'more' if value > 0 else 'less'}"


def more_or_less_span(low: float, high: float, digits: int) -> str:
    """An interval of changes without signs, the smaller change first where both go one way.

    >>> more_or_less_span(-3.2, -2.3, 1), more_or_less_span(-1.0, 0.4, 1), more_or_less_span(0.1, 0.4, 1)
    ('2.3 to 3.2 less', '1.0 less to 0.4 more', '0.1 to 0.4 more')
    """
    if high <= 0:
        return f"{span(-high, -low, digits)} less"
    if low >= 0:
        return f"{span(low, high, digits)} more"
    return f"{number(-low, digits)} less to {number(high, digits)} more"


def digits_for(values: Sequence[float], *, figures: int = 2, most: int = 4) -> int:
    """Decimal places that show the smallest of these (non-zero) sizes to about `figures` figures, at most `most`.

    >>> digits_for([0.42, 0.3]), digits_for([12.0]), digits_for([0.004, 0.002])
    (2, 0, 4)
    """
    sizes = [abs(value) for value in values if value and math.isfinite(value)]
    if not sizes:
        return figures
    return min(max(figures - 1 - math.floor(math.log10(min(sizes))), 0), most)


def count(n: int, noun: str, plural: str = "") -> str:
    """A count with its noun.

    >>> count(1, "brew"), count(1204, "brew"), count(2, "is", "are")
    ('1 brew', '1,204 brews', '2 are')
    """
    return f"{n:,} {noun if n == 1 else plural or noun + 's'}"


def listed(items: Sequence[str], *, last: str = "and") -> str:
    """Items joined as in speech.

    >>> listed(["a", "b", "c"]), listed(["a"]), listed([])
    ('a, b and c', 'a', '')
    """
    if len(items) < 2:
        return "".join(items)
    return f"{', '.join(items[:-1])} {last} {items[-1]}"


def day(value: date) -> str:
    """A calendar day.

    >>> day(date(2026, 4, 3))
    '3 April 2026'
    """
    return f"{value.day} {value:%B} {value.year}"


def day_span(first: date, last: date) -> str:
    """Two days as a span, without repeating month or year.

    >>> day_span(date(2026, 4, 3), date(2026, 4, 9)), day_span(date(2026, 3, 28), date(2026, 4, 4))
    ('3 to 9 April 2026', '28 March to 4 April 2026')
    """
    if first == last:
        return day(last)
    start = day(first)
    if first.year == last.year:
        start = str(first.day) if first.month == last.month else f"{first.day} {first:%B}"
    return f"{start} to {day(last)}"


def p_range(p_value: float | None) -> str:
    """A p value as the range it falls in.

    >>> p_range(0.0002), p_range(0.03), p_range(0.4), p_range(None)
    ('p under 0.001', 'p 0.01 to 0.05', 'p over 0.1', 'p not known')
    """
    if p_value is None or not math.isfinite(p_value):
        return f"p {NO_VALUE}"
    steps = (0.001, 0.01, 0.05, 0.1)
    if p_value < steps[0]:
        return "p under 0.001"
    for low, high in pairwise(steps):
        if p_value < high:
            return f"p {low} to {high}"
    return "p over 0.1"


def method_word(method: str) -> str:
    """A brew method as it is written inside a sentence.

    >>> method_word("pour_over")
    'pour over'
    """
    return METHOD_WORDS.get(method, method.replace("_", " "))


def capital(text: str) -> str:
    """The same text with its first letter raised.

    >>> capital("pour over")
    'Pour over'
    """
    return text[:1].upper() + text[1:]


def sentence(text: str) -> str:
    """The same text as a sentence: first letter raised, a full stop at the end.

    >>> sentence("one step finer: +0.42 points")
    'One step finer: +0.42 points.'
    """
    stripped = text.strip()
    return capital(stripped) if stripped.endswith((".", "!", "?")) or not stripped else f"{capital(stripped)}."
