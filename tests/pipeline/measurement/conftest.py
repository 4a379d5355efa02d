from __future__ import annotations

import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from pipeline.lab import load_settings
from pipeline.measurement.gather import Gathered, gather
from pipeline.store.store import Store

sys.path.insert(0, str(Path(__file__).parent))

from measuring_lab import files, gauge_study, make_lab


def read(folder: Path) -> Gathered:
    store = Store(folder)
    return gather(store, store.head(), load_settings(folder))


@pytest.fixture(scope="module")
def gathered_from() -> Callable[[Path], Gathered]:
    """Reads a project folder."""
    return read


@pytest.fixture(scope="module")
def gathered(tmp_path_factory: pytest.TempPathFactory) -> Gathered:
    """Everything about measuring in the invented lab, the gauge study among it."""
    drop = tmp_path_factory.mktemp("drop")
    return read(make_lab(tmp_path_factory.mktemp("labs") / "lab", drop, {**files(), **gauge_study()}))
