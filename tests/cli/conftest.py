from __future__ import annotations

import sys
from pathlib import Path

import pytest

from pipeline.cli.app import run

sys.path.insert(0, str(Path(__file__).parent))

from small_log import LOG, NOW


@pytest.fixture
def lab(tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> Path:
    """A project folder with the log and its grinder taken in."""
    monkeypatch.setenv("COLUMNS", "120")
    folder = tmp_path / "lab"
    run(["new", str(folder)])
    (tmp_path / "brews.csv").write_text(LOG)
    (tmp_path / "grinders.csv").write_text("grinder_id,finer_is\nbench,lower\n")
    for name in ("brews.csv", "grinders.csv"):
        assert run(["ingest", str(tmp_path / name), "--lab", str(folder), *NOW]) == 0
    capsys.readouterr()
    return folder
