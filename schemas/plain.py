"""Text without what does not matter for recognising it: case, spaces, punctuation."""

from __future__ import annotations

import re
import unicodedata

_SIGNS = {"%": " pct ", "‰": " permille ", "#": " no "}


def plain(text: str) -> str:
    """Lower-case words and digits, one space between them; per cent and number signs as words.

    >>> plain("Water_Temp (°C)"), plain("TDS %"), plain("Brew #")
    ('water temp c', 'tds pct', 'brew no')
    """
    folded = unicodedata.normalize("NFKC", text).casefold()
    for sign, word in _SIGNS.items():
        folded = folded.replace(sign, word)
    return " ".join(re.findall(r"[^\W_]+", folded))
