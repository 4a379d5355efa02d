from __future__ import annotations

import json
from pathlib import Path

import pytest
from small_log import NOW

from pipeline.cli.app import run


@pytest.fixture
def tasted(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> Path:
    """Three coffees, four palates, two cups each: the second coffee is one point sweeter, the third two."""
    rows = ["session_id,coffee_id,assessor,attribute,replicate,score"]
    for person, lean in (("Ana", 0.0), ("Bo", 0.5), ("Cem", -0.5), ("Dee", 0.2)):
        for k, coffee in enumerate(("c-1", "c-2", "c-3")):
            for cup in (1, 2):
                rows.append(f"s-1,{coffee},{person},sweetness,{cup},{5 + k + lean + (0.1 if cup == 1 else -0.1):.1f}")
    folder, file = tmp_path / "panel", tmp_path / "tastings.csv"
    file.write_text("\n".join(rows) + "\n", encoding="utf-8")
    assert run(["new", str(folder)]) == 0
    assert run(["ingest", str(file), "--lab", str(folder), *NOW]) == 0
    capsys.readouterr()
    return folder


def test_the_panel_is_told_without_names(tasted: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["cupping", "panel", "--lab", str(tasted)]) == 0
    said = capsys.readouterr().out
    assert "4 assessors" in said
    assert "sweetness" in said
    assert not any(name in said for name in ("Ana", "Cem", "Dee"))


def test_the_same_as_an_object(tasted: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["cupping", "panel", "--lab", str(tasted), "--format", "json"]) == 0
    assert json.loads(capsys.readouterr().out)


def test_an_unknown_session_and_product_are_refused(tasted: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["cupping", "panel", "--lab", str(tasted), "--session", "s-9"]) == 1
    assert "s-9" in capsys.readouterr().err
    assert run(["cupping", "panel", "--lab", str(tasted), "--product", "bean"]) == 1
    assert "kind of product" in capsys.readouterr().err
