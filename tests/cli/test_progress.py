from __future__ import annotations

import io
import sys

import pytest

from pipeline.cli.progress import progress_bar


class Terminal(io.StringIO):
    """A stream that says it is a terminal."""

    def isatty(self) -> bool:
        return True


def test_a_log_file_gets_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    stream = io.StringIO()
    monkeypatch.setattr(sys, "stderr", stream)

    with progress_bar() as progress:
        assert progress is None

    assert stream.getvalue() == ""


def test_a_terminal_sees_file_and_rows_as_they_add_up(monkeypatch: pytest.MonkeyPatch) -> None:
    stream = Terminal()
    monkeypatch.setattr(sys, "stderr", stream)
    monkeypatch.setenv("TERM", "xterm")
    monkeypatch.setenv("COLUMNS", "80")

    with progress_bar() as progress:
        assert progress is not None
        progress("[red]log.csv\x1b[2J", 50_000)
        progress("[red]log.csv\x1b[2J", 50_000)

    seen = stream.getvalue()
    assert "[red]log.csv?[2J: 100,000 rows" in seen
    assert "\x1b[2J" not in seen
