"""README.md and DEVELOPERS.md are true: their examples run, their tables are in step, their paths exist."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

from pipeline.cli.app import app
from pipeline.documents import fill_in
from pipeline.parse.mapping import read_mapping
from schemas.columns import COLUMNS
from schemas.rules import RULES

ROOT = Path(__file__).resolve().parents[1]
README, DEVELOPERS = ROOT / "README.md", ROOT / "DEVELOPERS.md"

MAKE = """#!/usr/bin/env bash
# Runs the demo itself; of every other target, shows that it exists and what it would do.
set -euo pipefail
if [ "$*" = demo ]; then exec "{python}" -m pipeline.cli.demo data/demo build/demo; fi
exec "{make}" --dry-run --directory "{root}" "$@" > /dev/null
"""


def blocks(document: Path, language: str) -> list[str]:
    return re.findall(rf"^```{language}\n(.*?)^```$", document.read_text(encoding="utf-8"), re.MULTILINE | re.DOTALL)


@pytest.fixture
def desk(tmp_path: Path) -> tuple[Path, dict[str, str]]:
    """An empty folder with the demo's files in reach, and an environment in which `make` starts nothing twice."""
    (tmp_path / "desk" / "data").mkdir(parents=True)
    (tmp_path / "desk" / "data" / "demo").symlink_to(ROOT / "data" / "demo")
    shims = tmp_path / "bin"
    shims.mkdir()
    make = subprocess.run(["bash", "-c", "command -v make"], capture_output=True, text=True, check=True).stdout.strip()
    (shims / "make").write_text(MAKE.format(python=sys.executable, make=make, root=ROOT))
    (shims / "make").chmod(0o755)
    path = f"{shims}:{Path(sys.executable).parent}:{os.environ['PATH']}"
    kept = {name: value for name, value in os.environ.items() if not name.startswith(("BREWTRIALS", "MAKE", "MFLAGS"))}
    return tmp_path / "desk", {**kept, "PATH": path, "COLUMNS": "120"}


def test_the_readme_s_examples_run_in_order(desk: tuple[Path, dict[str, str]]) -> None:
    folder, environment = desk
    script = "\n".join(f"echo '## block {number}'\n{block}" for number, block in enumerate(blocks(README, "sh")))

    done = subprocess.run(
        ["bash", "-euo", "pipefail", "-c", script],
        cwd=folder,
        env=environment,
        capture_output=True,
        text=True,
        check=False,
    )

    assert done.returncode == 0, done.stdout[-2000:] + done.stderr[-2000:]
    said = done.stdout
    assert "10 rows read = 9 taken in + 0 already known + 1 set aside + 0 blank" in said
    assert "Dose (g) = 15,o" in said or "dose_g = 15,o" in said
    assert "1 row read = 1 taken in" in said
    assert "one step finer: +" in said.lower()
    assert said.count("exit code 3") == 1
    assert (folder / "my-page" / "index.html").is_file()


def test_the_developers_examples_run(desk: tuple[Path, dict[str, str]]) -> None:
    folder, environment = desk

    for block in blocks(DEVELOPERS, "sh"):
        done = subprocess.run(
            ["bash", "-euo", "pipefail", "-c", block],
            cwd=folder,
            env=environment,
            capture_output=True,
            text=True,
            check=False,
        )
        assert done.returncode == 0, block + done.stdout[-1000:] + done.stderr[-1000:]


def test_every_fence_is_one_that_is_tested() -> None:
    for document in (README, DEVELOPERS):
        fences = re.findall(r"^```(\w*)$", document.read_text(encoding="utf-8"), re.MULTILINE)
        assert set(fences[::2]) <= {"sh", "toml"}, document


def test_the_columns_reference_is_understood(tmp_path: Path) -> None:
    (reference,) = blocks(README, "toml")
    (tmp_path / "columns.toml").write_text(reference, encoding="utf-8")

    mapping = read_mapping(tmp_path)

    assert mapping.general.id_from == ("brewed_at", "operator")
    assert mapping.section_for("panel1.csv", "").attributes == {"sweet": "sweet", "bitter": "bitter"}


def test_dictionary_and_rules_are_in_step_with_the_code() -> None:
    text = README.read_text(encoding="utf-8")

    assert fill_in(text) == text, "run: make tables"
    assert all(f"| `{name}` |" in text for name in RULES)
    assert {name for name in COLUMNS if f"| `{name}`" in text} >= {"dose_g", "tds_pct", "extraction_yield_u_pct"}


def test_the_readme_names_every_command_and_exit_code() -> None:
    text = README.read_text(encoding="utf-8")

    commands = [str(one.name) for one in (*app.registered_commands, *app.registered_groups)]
    assert [name for name in commands if f"brewtrials {name}" not in text] == []
    assert all(re.search(rf"^\| {code} \|", text, re.MULTILINE) for code in (0, 1, 2, 3, 130))


@pytest.mark.parametrize("document", [README, DEVELOPERS], ids=lambda path: path.name)
def test_every_path_named_exists(document: Path) -> None:
    text = document.read_text(encoding="utf-8")
    named = set(re.findall(r"\]\(([\w./-]+)\)", text))
    if document == DEVELOPERS:
        named |= set(re.findall(r"`((?:schemas|analysis|pipeline|tests|data|\.ci)/[\w./-]*)`", text))

    assert [path for path in sorted(named) if not (ROOT / path).exists()] == []


def test_make_help_lists_every_target() -> None:
    text = (ROOT / "Makefile").read_text(encoding="utf-8")
    targets = re.findall(r"^([a-z][\w-]*):", text, re.MULTILINE)

    said = subprocess.run(["make", "--silent", "help"], cwd=ROOT, capture_output=True, text=True, check=True).stdout

    assert targets
    assert all(re.search(rf"^  make {target} +\w", said, re.MULTILINE) for target in targets)
