"""Words people write for the words of a list: those that are plain, and those that leave a question open."""

from __future__ import annotations

CHOICE_WORDS: dict[str, dict[str, str]] = {"channeling": {"no": "none", "nein": "none", "0": "none"}}
"""Column to own word to the word of the list."""

OPEN_CHOICES: dict[str, tuple[tuple[str, ...], str]] = {
    "channeling": (("yes", "ja", "1", "true", "y", "j"), "Was it slight or severe?"),
}
"""Column to words that several words of the list may mean, and the question to ask."""
