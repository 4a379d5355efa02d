"""Next steps, worded once as commands to copy."""

from __future__ import annotations

import shlex
from pathlib import Path


def in_lab(command: str, lab: Path) -> str:
    """A command on a project folder, ready to copy.

    >>> in_lab("facts", Path("my lab"))
    "brewtrials facts --lab 'my lab'"
    """
    return f"brewtrials {command} --lab {shlex.quote(str(lab))}"


def ingest_a_log(lab: Path) -> str:
    """What to do on an empty project folder."""
    return f"Next, hand in a log: {in_lab('ingest YOUR-LOG.xlsx', lab)}"
