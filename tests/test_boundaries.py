"""The limits that keep the code readable and pure, checked instead of hoped for."""

from __future__ import annotations

import ast
import re
import shutil
import subprocess
import sys
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]
PACKAGES = ("schemas", "analysis", "pipeline")
MOST_LINES = 400
PURE = ("schemas", "analysis")
IMPURE_MODULES = {
    "asyncio", "duckdb", "glob", "http", "io", "logging", "os", "pathlib", "random", "secrets", "shutil", "socket",
    "sqlite3", "subprocess", "sys", "tempfile", "threading", "time", "urllib",
}  # fmt: skip
IMPURE_CALLS = {"print", "open", "input", "eval", "exec", "breakpoint"}
CLOCKS = {"now", "today", "utcnow"}
GENERATOR_NAMES = {"Generator", "BitGenerator", "SeedSequence"}
READS_OR_WRITES = re.compile(r"^(read|scan|write|sink)_")
MACHINE_PATH = re.compile(r"(?<![\w.~-])/(?:work|home|Users|root|mnt)/\w|[A-Z]:\\\\?Users")
REGISTRY = re.compile(r"pypi\.(?:org|python)|pythonhosted|index-url|conda\.anaconda|registry\.npmjs")


def tracked_files() -> list[Path]:
    """What git tracks or would; where git or its folder is missing, everything that is not a cache."""
    if shutil.which("git"):
        command = ["git", "ls-files", "-z", "--cached", "--others", "--exclude-standard"]
        listed = subprocess.run(command, cwd=ROOT, capture_output=True, check=False)
        if listed.returncode == 0:
            names = listed.stdout.decode().split("\0")
            return [path for name in names if name and (path := ROOT / name).is_file()]
    return [path for path in sorted(ROOT.rglob("*")) if path.is_file() and not is_cache(path.relative_to(ROOT))]


def is_cache(path: Path) -> bool:
    return path.parts[0] == "build" or any(
        part == "__pycache__" or part.endswith(".egg-info") or (part.startswith(".") and part != ".ci")
        for part in path.parts
    )


FILES = tracked_files()
MODULES = [path for path in FILES if path.suffix == ".py"]
PURE_MODULES = [path for path in MODULES if path.relative_to(ROOT).parts[0] in PURE]


def named(path: Path) -> str:
    return str(path.relative_to(ROOT))


def test_the_files_are_found() -> None:
    assert {path.relative_to(ROOT).parts[0] for path in MODULES} >= {*PACKAGES, "tests"}


def test_no_module_is_longer_than_400_lines() -> None:
    long = {named(path): count for path in MODULES if (count := len(path.read_text().splitlines())) > MOST_LINES}

    assert long == {}


def test_test_files_have_names_of_their_own() -> None:
    names = Counter(path.name for path in MODULES if path.name.startswith("test_"))

    assert [name for name, count in names.items() if count > 1] == []


def test_the_import_contracts_hold() -> None:
    lint = Path(sys.executable).with_name("lint-imports")

    done = subprocess.run([lint, "--no-cache"], cwd=ROOT, capture_output=True, text=True, check=False)

    assert done.returncode == 0, done.stdout


def impurities(tree: ast.AST) -> Iterator[str]:
    """What in a module reaches outside: files, clock, screen, global chance."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names if alias.name.split(".")[0] in IMPURE_MODULES)
        elif isinstance(node, ast.ImportFrom) and (node.module or "").split(".")[0] in IMPURE_MODULES:
            yield str(node.module)
        elif isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id in IMPURE_CALLS:
            yield f"{node.func.id}()"
        elif isinstance(node, ast.Attribute):
            owner = ast.unparse(node.value)
            is_clock = node.attr in CLOCKS and owner.split(".")[-1] in ("datetime", "date", "dt")
            is_chance = owner in ("np.random", "numpy.random") and node.attr not in GENERATOR_NAMES
            is_file = owner in ("pl", "polars", "pd", "pandas") and READS_OR_WRITES.match(node.attr)
            if is_clock or is_chance or is_file:
                yield f"{owner}.{node.attr}"


@pytest.mark.parametrize("path", PURE_MODULES, ids=named)
def test_analysis_and_schemas_touch_nothing_outside(path: Path) -> None:
    assert list(impurities(ast.parse(path.read_text()))) == []


@pytest.mark.parametrize(
    ("code", "found"),
    [
        ("import os.path", ["os.path"]),
        ("from pathlib import Path", ["pathlib"]),
        ("print(1)", ["print()"]),
        ("datetime.now()", ["datetime.now"]),
        ("dt.date.today()", ["dt.date.today"]),
        ("np.random.normal()", ["np.random.normal"]),
        ("pl.read_csv(x)", ["pl.read_csv"]),
        ("def f(rng: np.random.Generator): return rng.normal()", []),
    ],
)
def test_the_purity_test_sees_what_it_should(code: str, found: list[str]) -> None:
    assert list(impurities(ast.parse(code))) == found


def test_no_tracked_file_names_a_place_on_somebodys_machine_or_a_registry() -> None:
    found = []
    for path in FILES:
        content = path.read_bytes()
        if path == Path(__file__) or b"\0" in content[:8000]:
            continue
        for number, line in enumerate(content.decode("utf-8", "replace").splitlines(), start=1):
            if MACHINE_PATH.search(line) or REGISTRY.search(line):
                found.append(f"{named(path)}:{number}: {line.strip()[:100]}")

    assert found == []


def test_constraints_are_exact_versions_without_addresses() -> None:
    lines = (ROOT / "constraints.txt").read_text().splitlines()

    assert [line for line in lines if not re.fullmatch(r"[A-Za-z0-9_.-]+==[A-Za-z0-9.+!]+", line)] == []


def test_every_dependency_has_its_exact_version() -> None:
    import tomllib

    project = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]
    wanted = [*project["dependencies"], *project["optional-dependencies"]["dev"]]
    pinned = {line.split("==")[0].lower().replace("_", "-") for line in (ROOT / "constraints.txt").read_text().split()}

    names = {re.split(r"[<>=!~\[ ]", text)[0].lower().replace("_", "-") for text in wanted}

    assert names - pinned == set()
