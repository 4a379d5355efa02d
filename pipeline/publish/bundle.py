"""Vega, Vega-Lite and vega-embed as one script, made once and kept in the user's cache folder.

Making it takes over a second of every run. A copy counts only if it still has the length and hash that it was kept
under, so that a torn or changed one is made anew; without a folder to keep it in, nothing is kept and nothing is said.
"""

from __future__ import annotations

import hashlib
import os
import tempfile
from functools import lru_cache
from importlib.metadata import version
from pathlib import Path

SNIPPET = "window.vegaEmbed = vegaEmbed;"
HASH_LENGTH = 64


@lru_cache(maxsize=1)
def chart_bundle() -> str:
    """The script: the kept copy, else made and kept."""
    place = _place()
    kept = _read(place) if place else None
    if kept is not None:
        return kept
    made = make_bundle()
    if place:
        _keep(place, made)
    return made


def make_bundle() -> str:
    """The script as vl-convert makes it; ValueError if it could not stand inside a script element."""
    import vl_convert

    bundle: str = vl_convert.javascript_bundle(SNIPPET)
    if "</script" in bundle.lower() or "<!--" in bundle:
        raise ValueError("the chart script cannot stand inside a script element: it holds an end tag")
    return bundle


def _place() -> Path | None:
    """The file of this version and snippet under XDG_CACHE_HOME (else ~/.cache); None where there is no home."""
    named = os.environ.get("XDG_CACHE_HOME", "")
    try:
        base = Path(named) if Path(named).is_absolute() else Path.home() / ".cache"
    except RuntimeError:
        return None
    snippet = hashlib.sha256(SNIPPET.encode()).hexdigest()[:12]
    return base / "brewtrials" / f"charts-{version('vl-convert-python')}-{snippet}.js"


def _read(place: Path) -> str | None:
    """The kept script, or None if there is none or its bytes are not those that were kept."""
    try:
        data = place.read_bytes()
    except OSError:
        return None
    said, script = data[:HASH_LENGTH], data[HASH_LENGTH:]
    return script.decode() if said == _hash(script) else None


def _keep(place: Path, script: str) -> None:
    """Write beside and rename, so that two runs at once never read half a script; a folder that refuses is let be."""
    data = script.encode()
    try:
        place.parent.mkdir(parents=True, exist_ok=True)
        with tempfile.NamedTemporaryFile(dir=place.parent, prefix=f"{place.name}.", delete=False) as draft:
            beside = Path(draft.name)
            try:
                draft.write(_hash(data) + data)
                draft.close()
                beside.replace(place)
            except OSError:
                beside.unlink(missing_ok=True)
    except OSError:
        return


def _hash(script: bytes) -> bytes:
    return hashlib.sha256(script).hexdigest().encode()
