"""The sentences of the named rules, filled in."""

from __future__ import annotations

from schemas.rules import RULES

LONGEST_VALUE = 60


def reason(rule_name: str, /, **words: object) -> tuple[str, str]:
    """Message and fix of a rule; numbers are rounded for reading, an empty unit leaves no gap.

    >>> reason("too_low", column="water_g", value=-3.0, unit="g", limit=0)[0]
    'water_g is -3 g; it cannot be below 0.'
    """
    rule = RULES[rule_name]
    shown = {name: in_words(value) for name, value in words.items()}
    message, fix = rule.message, rule.fix
    if shown.get("unit") == "":
        message, fix = (text.replace(", in {unit}", "").replace(" {unit}", "") for text in (message, fix))
    return message.format(**shown), fix.format(**shown)


def in_words(value: object) -> str:
    """A value as it stands in a sentence: four decimals at most, long texts cut, on one line; a list is given whole.

    >>> in_words(93.33333333), in_words(0.000123456), in_words(1500000.0), in_words(None), in_words(("a", "b"))
    ('93.3333', '0.0001235', '1500000', '', 'a, b')
    """
    if value is None:
        return ""
    if isinstance(value, tuple):
        return ", ".join(value)
    if isinstance(value, float):
        return f"{value:.4g}" if 0 < abs(value) < 0.01 else f"{round(value, 4):.12g}"
    text = " ".join(str(value).split())
    return text if len(text) <= LONGEST_VALUE else f"{text[: LONGEST_VALUE - 1]}…"
