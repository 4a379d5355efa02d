from __future__ import annotations

from pathlib import Path

import pytest

from pipeline.cli.demo import demo

LOG = "brew_id,brewed_at,coffee_id,method,dose_g,beverage_g,tds_pct\nb-1,2026-05-01,ostrin,espresso,18,36,{}\n"


@pytest.fixture
def source(tmp_path: Path) -> Path:
    """A demo of one brew."""
    (tmp_path / "demo" / "lab").mkdir(parents=True)
    (tmp_path / "demo" / "files").mkdir()
    (tmp_path / "demo" / "lab" / "lab.toml").write_text('name = "Small"\n')
    (tmp_path / "demo" / "files" / "brews.csv").write_text(LOG.format(10))
    return tmp_path / "demo"


def test_a_second_run_finds_everything_known_and_writes_the_same_page(
    source: Path, tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "build"

    assert demo(source, out) == 0
    assert "1 row read = 1 taken in" in capfd.readouterr().out
    page = (out / "index.html").read_bytes()

    assert demo(source, out) == 0
    said = capfd.readouterr().out
    assert "1 row read = 0 taken in + 1 already known" in said
    assert f"Wrote {out / 'index.html'}." in said
    assert (out / "index.html").read_bytes() == page


def test_a_changed_demo_starts_afresh(source: Path, tmp_path: Path, capfd: pytest.CaptureFixture[str]) -> None:
    demo(source, tmp_path / "build")
    (source / "files" / "brews.csv").write_text(LOG.format(9.5))
    capfd.readouterr()

    assert demo(source, tmp_path / "build") == 0
    assert "1 row read = 1 taken in + 0 already known + 0 set aside + 0 blank\n" in capfd.readouterr().out


def test_a_refused_file_stops_the_demo(source: Path, tmp_path: Path, capfd: pytest.CaptureFixture[str]) -> None:
    (source / "files" / "broken.xlsx").write_bytes(b"PK no workbook")

    assert demo(source, tmp_path / "build") == 1
    assert "Refused: " in capfd.readouterr().out


def test_another_version_of_the_program_starts_afresh(
    source: Path, tmp_path: Path, capfd: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    demo(source, tmp_path / "build")
    capfd.readouterr()
    changed = tmp_path / "changed.py"
    changed.write_text("# newer\n")
    monkeypatch.setattr("pipeline.cli.demo._own_code", lambda _package: [changed])

    assert demo(source, tmp_path / "build") == 0
    assert "1 row read = 1 taken in" in capfd.readouterr().out
