"""One named row rule and the sentence it speaks."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Severity = Literal["hard", "soft", "strong"]


@dataclass(frozen=True, slots=True)
class Rule:
    """A named rule: hard sets the row aside, soft keeps and flags it, strong is a soft one to look at first.

    `message` and `fix` are templates; the names in braces are filled in by whoever finds the row.
    """

    name: str
    severity: Severity
    message: str
    fix: str
