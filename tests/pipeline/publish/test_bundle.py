"""The chart script: one text, whether made or kept, and no page depends on the cache."""

from __future__ import annotations

import pytest

from pipeline.publish import bundle


@pytest.fixture(scope="module")
def made() -> str:
    return bundle.make_bundle()


@pytest.fixture
def cache(tmp_path, monkeypatch):
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path))
    bundle.chart_bundle.cache_clear()
    yield tmp_path / "brewtrials"
    bundle.chart_bundle.cache_clear()


@pytest.fixture
def makes(made, monkeypatch):
    """Counts how often the script is made."""
    calls = []
    monkeypatch.setattr(bundle, "make_bundle", lambda: calls.append(1) or made)
    return calls


def again() -> str:
    bundle.chart_bundle.cache_clear()
    return bundle.chart_bundle()


def test_it_can_stand_in_a_script_element(made):
    assert "</script" not in made.lower()
    assert "<!--" not in made
    assert "vegaEmbed" in made


def test_made_once_then_read_with_the_same_text(cache, makes, made):
    assert bundle.chart_bundle() == again() == made
    assert len(makes) == 1
    assert [path.suffix for path in cache.iterdir()] == [".js"]


@pytest.mark.parametrize("harm", [b"", b"alert(1)", None])
def test_a_torn_or_changed_copy_is_made_anew(cache, makes, made, harm):
    bundle.chart_bundle()
    (kept,) = cache.iterdir()
    kept.write_bytes(kept.read_bytes().replace(b"vega", b"Vega", 1) if harm is None else harm)

    assert again() == made
    assert len(makes) == 2
    assert again() == made
    assert len(makes) == 2


def test_a_cache_that_cannot_be_written_is_done_without(tmp_path, monkeypatch, makes, made):
    (tmp_path / "file").write_text("no folder")
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "file"))

    assert again() == made
    assert len(makes) == 1
    bundle.chart_bundle.cache_clear()


def test_a_full_disk_leaves_no_draft_behind(cache, makes, made, monkeypatch):
    def full(self, target):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(bundle.Path, "replace", full)

    assert bundle.chart_bundle() == made
    assert list(cache.iterdir()) == []


def test_without_a_home_nothing_is_kept(monkeypatch, makes, made):
    monkeypatch.delenv("XDG_CACHE_HOME", raising=False)

    def homeless():
        raise RuntimeError("Could not determine home directory.")

    monkeypatch.setattr(bundle.Path, "home", homeless)

    assert again() == made
    bundle.chart_bundle.cache_clear()


def test_another_version_or_snippet_has_another_file(cache, makes, monkeypatch):
    bundle.chart_bundle()
    monkeypatch.setattr(bundle, "version", lambda _name: "0.0")
    again()
    monkeypatch.setattr(bundle, "SNIPPET", "window.embed = vegaEmbed;")
    again()

    assert len(list(cache.iterdir())) == 3
