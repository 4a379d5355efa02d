from __future__ import annotations

import pytest

from tests.demo.ingested import Ingested


@pytest.fixture(scope="session")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Ingested:
    return Ingested(tmp_path_factory.mktemp("demo") / "lab")
