from __future__ import annotations

from string import Formatter

import pytest

from pipeline.parse.say import LONGEST_VALUE, in_words, reason
from schemas.rules import RULES


@pytest.mark.parametrize("name", RULES)
def test_every_rule_speaks_whole_sentences(name: str) -> None:
    rule = RULES[name]
    words = {word for text in (rule.message, rule.fix) for _, word, _, _ in Formatter().parse(text) if word}
    message, fix = reason(name, **dict.fromkeys(words, "9"))
    assert "{" not in message + fix
    assert fix.endswith((".", "?"))
    assert message.strip()


def test_an_empty_unit_leaves_no_gap() -> None:
    assert reason("not_a_number", column="Score", value="x", unit="") == (
        "Score should be a number, not x.",
        "Write digits only.",
    )
    assert reason("too_high", column="score", value=3.0, unit="", limit=2.0)[0] == ("score is 3; it cannot be above 2.")


def test_long_or_broken_texts_are_shown_short_on_one_line() -> None:
    shown = in_words("line one\nline two " + "x" * 200)
    assert shown.startswith("line one line two")
    assert len(shown) == LONGEST_VALUE
