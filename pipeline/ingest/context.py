"""What every step of one ingest needs: the draft, the lab's settings, the clock, where to report progress."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime

from pipeline.ingest.draft import Draft
from schemas.lab import LabSettings

Progress = Callable[[str, int], None]
"""Called with a file and how many more of its rows have been read."""


@dataclass(frozen=True)
class Context:
    """One call's surroundings; `now` is the clock for rules."""

    draft: Draft
    settings: LabSettings
    now: datetime
    progress: Progress
