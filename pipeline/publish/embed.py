"""What makes the page one safe file: escaped data, one script bundle, and a policy that allows nothing else."""

from __future__ import annotations

import base64
import hashlib
import json
from importlib.resources import files
from typing import Any


def script_json(value: Any) -> str:
    r"""JSON that cannot leave its script element, whatever texts it holds; NaN and infinity raise ValueError.

    >>> print(script_json("</script>"))
    "\u003c/script\u003e"
    """
    text = json.dumps(value, ensure_ascii=True, allow_nan=False, separators=(",", ":"))
    return text.replace("<", "\\u003c").replace(">", "\\u003e").replace("&", "\\u0026")


def page_text(name: str) -> str:
    """A text file that lies beside this module: the page's own script or style."""
    return files("pipeline.publish").joinpath(name).read_text(encoding="utf-8")


def content_hash(text: str) -> str:
    """The hash that a content security policy names a script or style by."""
    return f"'sha256-{base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()}'"


def policy(*, scripts: list[str], styles: list[str]) -> str:
    """A content security policy under which only these scripts and styles run and nothing is fetched."""
    script_hashes, style_hashes = (" ".join(map(content_hash, texts)) for texts in (scripts, styles))
    return (
        f"default-src 'none'; script-src {script_hashes}; style-src {style_hashes}; base-uri 'none'; form-action 'none'"
    )
