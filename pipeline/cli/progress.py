"""How far a long ingest has come, on a terminal only: a log file gets nothing."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager

from pipeline.cli.screen import harmless

Progress = Callable[[str, int], None]


@contextmanager
def progress_bar() -> Iterator[Progress | None]:
    """A counter of rows read, one line per file, gone when done; None where nobody watches."""
    if not sys.stderr.isatty():
        yield None
        return
    from rich.console import Console
    from rich.progress import Progress as Bar
    from rich.progress import SpinnerColumn, TextColumn, TimeElapsedColumn

    columns = (SpinnerColumn(), TextColumn("{task.description}", markup=False), TimeElapsedColumn())
    with Bar(*columns, console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task("reading", total=None)
        rows: dict[str, int] = {}

        def step(file: str, more: int) -> None:
            rows[file] = rows.get(file, 0) + more
            bar.update(task, description=harmless(f"{file}: {rows[file]:,} rows"))

        yield step
