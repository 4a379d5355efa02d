"""What `make demo` runs: the demo lab from its files to its dashboard, in one go."""

from __future__ import annotations

import hashlib
import shutil
import subprocess
import sys
from importlib import import_module
from importlib.resources import files
from pathlib import Path

from pipeline.cli.app import STOPPED, run
from pipeline.cli.screen import say

ACTIVATE = ". .venv/bin/activate"
DEMO_NOW = "2026-06-01"
"""The demo's clock: its brews stay in the past even on a machine whose clock runs behind."""

FOR_THE_PAGE = ("pipeline.publish.build", "statsmodels.regression.mixed_linear_model")


def demo(source: Path, folder: Path) -> int:
    """Take the demo lab's files into `folder/lab` and write `folder/index.html`; the exit code.

    A second run finds everything known; after the demo's files or this program have changed, the folder is made anew.
    """
    lab, stamp = folder / "lab", folder / "made-from.sha256"
    made_from = _hash_of(_files(source / "lab"), _files(source / "files"), *map(_own_code, ("pipeline", "schemas")))
    if not stamp.is_file() or stamp.read_text() != made_from:
        shutil.rmtree(lab, ignore_errors=True)
        shutil.copytree(source / "lab", lab)
        stamp.write_text(made_from)
    say(f"The demo lab (invented) hands in {source / 'files'}:\n")
    taken = _take_in(["ingest", str(source / "files"), "--lab", str(lab), "--now", DEMO_NOW])
    if taken:
        return taken
    say()
    written = run(["dashboard", "--lab", str(lab), "--out", str(folder)])
    if not written and shutil.which("brewtrials") is None:
        say(f"The command brewtrials stands in {Path(sys.executable).parent}; to call it by its name: {ACTIVATE}")
    return written


def _take_in(arguments: list[str]) -> int:
    """Take the files in beside this process, which loads meanwhile what the page needs: over a second on two cores."""
    sys.stdout.flush()
    try:
        with subprocess.Popen([sys.executable, "-c", "from pipeline.cli import main; main()", *arguments]) as beside:
            for module in FOR_THE_PAGE:
                import_module(module)
    except KeyboardInterrupt:
        return STOPPED
    return beside.returncode


def _files(folder: Path) -> list[Path]:
    return [path for path in folder.rglob("*") if path.is_file()]


def _own_code(package: str) -> list[Path]:
    """The program's own modules: a store that an earlier version made is no demo of this one."""
    return list(Path(str(files(package))).rglob("*.py"))


def _hash_of(*groups: list[Path]) -> str:
    found = hashlib.sha256()
    for path in sorted(path for group in groups for path in group):
        found.update(str(path).encode())
        found.update(hashlib.sha256(path.read_bytes()).digest())
    return found.hexdigest()


if __name__ == "__main__":
    sys.exit(demo(Path(sys.argv[1]), Path(sys.argv[2])))
