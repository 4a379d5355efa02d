"""What `make demo` runs: the demo lab from its files to its dashboard, in one go."""

from __future__ import annotations

import hashlib
import shutil
import sys
from pathlib import Path

from pipeline.cli.app import run
from pipeline.cli.screen import say

DEMO_NOW = "2026-06-01"
"""The demo's clock: its brews stay in the past even on a machine whose clock runs behind."""


def demo(source: Path, folder: Path) -> int:
    """Take the demo lab's files into `folder/lab` and write `folder/index.html`; the exit code.

    A second run finds everything known; after the demo's files have changed, the folder is made anew.
    """
    lab, stamp = folder / "lab", folder / "made-from.sha256"
    made_from = _hash_of(source / "lab", source / "files")
    if not stamp.is_file() or stamp.read_text() != made_from:
        shutil.rmtree(lab, ignore_errors=True)
        shutil.copytree(source / "lab", lab)
        stamp.write_text(made_from)
    say(f"The demo lab (invented) hands in {source / 'files'}:\n")
    taken = run(["ingest", str(source / "files"), "--lab", str(lab), "--now", DEMO_NOW])
    if taken:
        return taken
    say()
    return run(["dashboard", "--lab", str(lab), "--out", str(folder)])


def _hash_of(*folders: Path) -> str:
    found = hashlib.sha256()
    for path in sorted(path for folder in folders for path in folder.rglob("*") if path.is_file()):
        found.update(str(path).encode())
        found.update(hashlib.sha256(path.read_bytes()).digest())
    return found.hexdigest()


if __name__ == "__main__":
    sys.exit(demo(Path(sys.argv[1]), Path(sys.argv[2])))
